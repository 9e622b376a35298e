"""A population of batches that were never cast: what earlier breaks say of the mix, as draws.

Use it where ages, targets or temperatures are wanted that nobody has broken or measured. Where every age is
in the records the records themselves are better evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.population.growth_families import Family, families
from planner.population.markov_chains import Chains
from planner.population.prior_breaks import PriorBreaks, prior_breaks
from planner.population.wording.population_words import few_to_draw_from, learnt_notes, stand_for_all_words
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import MaturityGrid, Settings
from planner.terms.problems import Caution
from planner.terms.records import Records

N_CHAINS = 200
N_STEPS = 100
N_CHAINS_HELD_OUT = 64
N_STEPS_HELD_OUT = 60
MOST_BATCHES = 100  # that a population is learnt from
MOST_HELD_OUT = 4  # ages that are held out to weigh the families
LEAST_WEIGHT = 0.03  # of a family that predicts badly: no few ages can rule one out
Q_RANGE_K = (4000.0, 6000.0)  # usual range of temperature sensitivity of Portland cements; from memory


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Component:
    """One family with draws of its population. Arrays lead with ``n_draws``."""

    family: Family
    weight: float  # share of the batches drawn from it
    held_out_score: float  # mean log density of held-out ages; NaN where none could be held out
    reference_h: float
    mean: FloatArray  # (n_draws, p)
    root: FloatArray  # root of the covariance between batches, (n_draws, p, p)
    known_h: FloatArray  # maturities of the tested ages [h], (n_known,)
    mix_departure: FloatArray  # there, (n_draws, n_known)
    mix_size: FloatArray  # (n_draws,)
    batch_size: FloatArray  # (n_draws,)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Population:
    """Everything that new batches are drawn from."""

    grade: Literal["population", "published"]
    components: tuple[Component, ...]
    breaks: PriorBreaks | None  # None: published growth
    tested_ages_h: tuple[float, ...]  # () with published growth
    settings: tuple[MaturitySetting, ...]  # maturity settings that a search over drawn batches should hold
    standard_c: float | None  # temperature of standard curing; None where age stands for maturity
    q_range_k: tuple[float, float]  # between which the true temperature sensitivity is drawn
    scale_h: float  # hours of maturity in one hour of standard curing
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]  # what the draws rest on, with defaults and their sources
    law: str = ""  # name of the published growth

    def weights(self) -> tuple[tuple[str, float], ...]:
        """Families with their shares."""
        return tuple((item.family.name, item.weight) for item in self.components)


def population_of(records: Records, settings: Settings, *, seed: int = 1) -> Population:
    """Learn the population of a mix from its standard-cured breaks.

    Raises
    ------
    InputError
        Where no standard-cured break can be used.
    """
    known = prior_breaks(records, settings)
    n_known = len(known.batches)
    if n_known <= MOST_BATCHES:
        return population_from(known, settings, seed=seed)
    spread = np.linspace(0, n_known - 1, MOST_BATCHES).round().astype(int)
    return population_from(
        known.only_batches(spread.tolist()), settings, seed=seed, notes=(stand_for_all_words(n_known, MOST_BATCHES),)
    )


def population_from(
    breaks: PriorBreaks, settings: Settings, *, seed: int = 1, notes: tuple[str, ...] = ()
) -> Population:
    """Learn the population from cell means that are gathered already; `notes` are said after its own."""
    listed = families(final_set_h=settings.final_set_h)
    scores = np.array([held_out_score(family, breaks, seed=seed) for family in listed])
    weights = family_weights(scores)
    components = []
    for number, family in enumerate(listed):
        chains = Chains(family, breaks, n_chains=N_CHAINS, seed=(seed, number))
        chains.run(N_STEPS)
        components.append(_component(chains, float(weights[number]), float(scores[number])))
    scale_h = 1.0 if breaks.standard_c is None else float(np.median(breaks.typical_h() / breaks.ages_h))
    return Population(
        grade="population",
        components=tuple(components),
        breaks=breaks,
        tested_ages_h=tuple(float(age) for age in breaks.ages_h),
        settings=breaks.settings,
        standard_c=breaks.standard_c,
        q_range_k=q_range_k(settings.maturity),
        scale_h=scale_h,
        cautions=(*breaks.cautions, *few_to_draw_from(*breaks.held.shape)),
        notes=(*learnt_notes({item.family.name: item.weight for item in components}, breaks), *notes),
    )


def held_out_score(family: Family, breaks: PriorBreaks, *, seed: int) -> float:
    """Mean log density that a family gives to the means of ages it was not shown.

    Each age is held out of all batches at once, the youngest first, since ages that nobody has broken are
    what is drawn. Densities are averaged over the batches, which share what the age has in common, and
    summed over the ages. NaN with fewer than three ages.
    """
    n_ages = len(breaks.ages_h)
    if n_ages < 3:
        return float("nan")
    total = 0.0
    for position in _held_out_positions(n_ages):
        shown = breaks.without_age(position)
        chains = Chains(family, shown, n_chains=N_CHAINS_HELD_OUT, seed=(seed, 1000 + position))
        chains.run(N_STEPS_HELD_OUT)
        held = breaks.held[:, position]
        predicted = chains.smooth()[:, held, position]
        variance = chains.batch_size[:, None] ** 2 + breaks.noise[held, position]
        misfit = breaks.log_mean[held, position] - predicted
        density = np.exp(-0.5 * misfit**2 / variance) / np.sqrt(2.0 * np.pi * variance)
        total += float(np.mean(np.log(density.mean(axis=0) + 1e-12)))
    return total


def family_weights(scores: FloatArray) -> FloatArray:
    """Shares in proportion to how well held-out ages are predicted, none below the least; equal where unknown."""
    if np.any(np.isnan(scores)):
        return np.full(len(scores), 1.0 / len(scores))
    raw = np.exp(scores - scores.max())
    shares = raw / raw.sum()
    return np.asarray(LEAST_WEIGHT + (1.0 - LEAST_WEIGHT * len(shares)) * shares)


def q_range_k(grid: MaturityGrid) -> tuple[float, float]:
    """Range of temperature sensitivity that truth is drawn from: that of the plan, if it lists two or more."""
    listed = grid.equivalent_age_q_k
    return (min(listed), max(listed)) if len(listed) > 1 else Q_RANGE_K


def _held_out_positions(n_ages: int) -> tuple[int, ...]:
    if n_ages <= MOST_HELD_OUT:
        return tuple(range(n_ages))
    return tuple(sorted({0, 1, n_ages // 2, n_ages - 1}))


def _component(chains: Chains, weight: float, score: float) -> Component:
    return Component(
        family=chains.family,
        weight=weight,
        held_out_score=score,
        reference_h=chains.reference_h,
        mean=chains.mean,
        root=chains.root,
        known_h=chains.known_h,
        mix_departure=chains.departure,
        mix_size=chains.mix_size,
        batch_size=chains.batch_size,
    )
