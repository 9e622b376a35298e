"""What one more batch of breaks would do: which ages sharpen the population most.

New breaks are drawn from one population after another, and the others weighed by how well they explain
them. The spread that is left is averaged over what might be broken.
"""

from __future__ import annotations

import numpy as np

from planner.population.drawing import Drawn, draw_cells
from planner.population.population_model import Population
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Settings
from planner.terms.results.drawn_figures import Gain

N_POPULATIONS = 150
PER_POPULATION = 8
N_SPECIMENS = 3  # at each age of the new batch


def evidence_gain(
    population: Population,
    settings: Settings,
    *,
    additions_h: tuple[tuple[float, ...], ...] = (),
    seed: int = 1,
) -> tuple[Gain, ...]:
    """Rank ways of breaking one more batch, the one that leaves the least spread at the targets first.

    Parameters
    ----------
    additions_h
        Ages of the new batch, one tuple for each way; sensible ones where empty.

    Raises
    ------
    InputError
        Where most drawn batches have no strength at a target.
    """
    ways = additions_h or usual_additions(population, settings)
    drawn = draw_cells(
        population,
        settings,
        n_batches=N_POPULATIONS * PER_POPULATION,
        per_population=PER_POPULATION,
        seed=seed,
        ages_h=ages_of(ways),
    )
    return gains_from(drawn, ways, seed=seed)


def ages_of(ways: tuple[tuple[float, ...], ...]) -> tuple[float, ...]:
    """Every age of any of the ways, rising [h]."""
    return tuple(sorted({age for ages in ways for age in ages}))


def gains_from(drawn: Drawn, ways: tuple[tuple[float, ...], ...], *, seed: int) -> tuple[Gain, ...]:
    """The same from batches that are drawn already, several of each population, at all the ages of the ways."""
    targets = _by_population(_target_logs(drawn), _numbered(drawn))
    gains = [_gain(drawn, ages, targets, seed=seed) for ages in ways]
    return tuple(sorted(gains, key=lambda gain: gain.spread_after or 0.0))


def usual_additions(population: Population, settings: Settings) -> tuple[tuple[float, ...], ...]:
    """The target ages alone, with 28 d, the ages tested so far, and these with the targets."""
    after_set = [age for age in settings.choices.ages_h if age >= settings.final_set_h]
    targets = tuple(age for age in settings.target.ages_h if age >= settings.final_set_h)
    last = (max(after_set),) if after_set else ()
    tested = tuple(age for age in population.tested_ages_h if age >= settings.final_set_h)
    ways = [targets, (*targets, *last), last, tested, (*tested, *targets)]
    return tuple(dict.fromkeys(tuple(sorted(set(way))) for way in ways if way))


def _gain(drawn: Drawn, ages_h: tuple[float, ...], targets: FloatArray, *, seed: int) -> Gain:
    weights = _weights(drawn, ages_h, seed=seed)
    mean = weights @ targets
    left = weights @ targets**2 - mean**2  # (n_new, n_targets)
    return Gain(
        ages_h=ages_h,
        spread_now=float(np.sqrt(targets.var(axis=0).mean())),
        spread_after=float(np.sqrt(np.maximum(left, 0.0).mean())),
        bound_now=None,
        bound_after=None,
    )


def _weights(drawn: Drawn, ages_h: tuple[float, ...], *, seed: int) -> FloatArray:
    """Weights of the populations after each of many new batches, ``(n_new, n_populations)``."""
    cells, number = drawn.cells, _numbered(drawn)
    at = [int(np.argmin(np.abs(cells.ages_h - age))) for age in ages_h]
    logs = np.log(cells.views.mean_mpa[:, at])
    means = _by_population(logs, number)
    within = logs - means[number]
    noise = np.diag(cells.cv[at] ** 2 / N_SPECIMENS)
    covariance = within.T @ within / (len(logs) - len(means)) + noise
    # The first batch of each population is the one that might be broken.
    source, first = np.unique(number, return_index=True)
    new = logs[first]
    generator = np.random.default_rng((seed, 12))
    broken = new + generator.standard_normal(new.shape) @ np.sqrt(noise)
    apart = broken[:, None, :] - means[None]
    score = -0.5 * np.einsum("nki,ij,nkj->nk", apart, np.linalg.inv(covariance), apart)
    score[np.arange(len(new)), source] = -np.inf  # its own population must not vouch for itself
    score -= score.max(axis=1, keepdims=True)
    weights = np.exp(score)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _target_logs(drawn: Drawn) -> FloatArray:
    """Mean logarithm of true strength at each target over its checks, ``(n_units, n_targets)``."""
    cells = drawn.cells
    total = np.zeros((cells.n_units, len(cells.target_ages_h)))
    np.add.at(total, (cells.check_unit, cells.checks.target), cells.checks.weight * np.log(cells.checks.truth_mpa))
    return total


def _numbered(drawn: Drawn) -> IntArray:
    """Number the populations without gaps: one whose batches never set has none, ``(n_units,)``."""
    return np.asarray(np.unique(drawn.population_of_unit, return_inverse=True)[1])


def _by_population(values: FloatArray, number: IntArray) -> FloatArray:
    """Mean over the batches of each drawn population, ``(n_populations, ...)``."""
    total = np.zeros((int(number.max()) + 1, *values.shape[1:]))
    np.add.at(total, number, values)
    return np.asarray(total / np.bincount(number)[:, None])
