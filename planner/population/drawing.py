"""New batches from a population, as cells: true strengths at any age, checked at any site temperature."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from planner.evidence import Cells, Scatter, within_test_scatter
from planner.evidence.cells import Checks, SiteCuredCompanions, Views, WholeCells
from planner.population.conditions import Wanted
from planner.population.population_model import Component, Population
from planner.population.prior_breaks import scatter_at
from planner.population.scatter_factors import scatter_factors
from planner.population.site import crossover_factor, site_temperatures
from planner.population.smooth_departure import continued, outside, smooth_draws
from planner.population.wording.draw_cautions import draw_cautions, unchecked_caution
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution, InputError, Problem

TRUE = 1e9  # specimens behind a mean that is true: the noise of the mean is nil
MEASURABLE_MPA = 0.5  # less counts as not set: it can be neither demoulded nor broken; common practice, no source
SHARE_STRONG_ENOUGH = 0.95  # of drawn batches, for an age to be offered
CROSSOVER = (
    0.05,
    0.02,
)  # loss of 28 d strength for each 10 K warmer, mean and sd; common practice, no source
N_TO_OFFER = 600  # batches drawn to see which ages can be broken
_MOST_ATTEMPTS = 30


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drawn:
    """Drawn batches with what a measured batch does not have."""

    cells: Cells  # each drawn batch is a unit with one view; means and truths carry no noise
    population_of_unit: IntArray  # batches of one drawn population share its number, (n_units,)
    check_temperature_c: FloatArray  # mean in the concrete of each check; NaN: age stands for maturity, (n_checks,)
    scatter_factor: FloatArray  # drawn over stated within-test CV, one for each population, (n_units,)
    share_not_set: float  # of batches drawn and put aside: no strength at a target yet
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Batches:
    """What was drawn, before it is cells."""

    wanted: Wanted
    strength_mpa: FloatArray  # (n_batches, n_ages)
    truth_mpa: FloatArray  # (n_batches, n_checks)
    population: IntArray  # number of the population of each, (n_batches,)
    is_strong: BoolArray  # ages that may be offered, (n_ages,)
    is_checked: BoolArray  # (n_batches, n_checks)


def draw_cells(
    population: Population,
    settings: Settings,
    *,
    n_batches: int = 120,
    per_population: int = 6,
    seed: int = 1,
    ages_h: tuple[float, ...] = (),
    maturities: tuple[MaturitySetting, ...] | None = None,
    only_family: str | None = None,
) -> Drawn:
    """Draw batches that were never cast.

    Parameters
    ----------
    n_batches
        Drawn in all, `per_population` from each drawn population, so that how little is known of the
        population shows between populations, and how batches differ shows within.
    ages_h
        Ages wanted besides the plan's candidates, required and compared ones [h].
    maturities
        Settings to read maturities with; those of the population where None.
    only_family
        Draw from one family alone: to see how much that flatters it. A caution says so.

    Raises
    ------
    InputError
        Where most drawn batches have no strength at a target, or no family has the name.
    """
    ages = _ages(settings, ages_h)
    temperatures_c = site_temperatures(settings, population.standard_c)
    used = population.settings if maturities is None else maturities
    is_waited_for = tuple(strength_mpa is not None for strength_mpa in settings.target.waits_mpa)
    wanted = Wanted.of(population, ages, settings.target.ages_h, temperatures_c, is_waited_for)
    strength, truth, number, share_not_set = _draw_batches(
        wanted, _components(population, only_family), n_batches, per_population, seed
    )
    if share_not_set > 0.5:
        raise InputError([_not_set(settings, share_not_set)])
    least = max(settings.choices.least_strength_mpa, MEASURABLE_MPA)
    is_strong = (_strengths_to_offer(population, tuple(ages.tolist())) >= least).mean(axis=0) >= SHARE_STRONG_ENOUGH
    is_checked = checkable(truth, wanted.check_target, least_mpa=least)
    batches = _Batches(wanted, np.maximum(strength, MEASURABLE_MPA), truth, number, is_strong, is_checked)
    cells = _cells(population, settings, used, batches)
    said = (
        *draw_cautions(population, settings, ages, is_strong, share_not_set, only_family),
        *unchecked_caution(1.0 - float(is_checked.mean()), least),
    )
    return Drawn(
        cells=cells,
        population_of_unit=number,
        check_temperature_c=np.tile(wanted.check_temperature_c, len(strength))[is_checked.ravel()],
        scatter_factor=scatter_factors(cells.scatter, int(number.max()) + 1, seed=seed)[number],
        share_not_set=share_not_set,
        cautions=said,
    )


def checkable(truth: FloatArray, check_target: IntArray, *, least_mpa: float) -> BoolArray:
    """Checks where companions could be broken: a relative error of next to nothing says nothing, ``(n, n_checks)``.

    A batch too weak in every place keeps its strongest check of that target.
    """
    is_checked = truth >= least_mpa
    for target in np.unique(check_target):
        own = np.flatnonzero(check_target == target)
        none = ~is_checked[:, own].any(axis=1)
        is_checked[none, own[np.argmax(truth[none][:, own], axis=1)]] = True
    return np.asarray(is_checked)


@lru_cache(maxsize=4)
def _strengths_to_offer(population: Population, ages_h: tuple[float, ...]) -> FloatArray:
    """Strengths [MPa] that tell which ages can be broken, ``(N_TO_OFFER, n_ages)``.

    From a draw of its own, so that neither the seed nor the number of batches decides which ages are offered; the same
    for the batches that choose and for the fresh ones that judge, so that it is made once.
    """
    return draw_strengths(population, np.array(ages_h), n_batches=N_TO_OFFER)


def draw_strengths(
    population: Population, ages_h: FloatArray, *, n_batches: int = 300, per_population: int = 1, seed: int = 1
) -> FloatArray:
    """True strengths [MPa] of new standard-cured batches at any ages [h], ``(n_batches, n_ages)``."""
    wanted = Wanted.of(population, np.asarray(ages_h, dtype=np.float64), (), None)
    return _draw_batches(wanted, population.components, n_batches, per_population, seed)[0]


def _draw_batches(
    wanted: Wanted, components: tuple[Component, ...], n_batches: int, per_population: int, seed: int
) -> tuple[FloatArray, FloatArray, IntArray, float]:
    """True strengths at ages ``(n, n_ages)`` and at checks ``(n, n_checks)``, population of each, share not set."""
    n_populations = -(-n_batches // per_population)
    shares = np.cumsum([item.weight for item in components])
    places = (np.arange(n_populations) + np.random.default_rng((seed, 5)).random()) / n_populations
    picked = np.minimum(np.searchsorted(shares / shares[-1], places), len(components) - 1)
    rows, numbers, n_put_aside = [], [], 0
    n_ages = len(wanted.ages_h)
    for k in range(n_populations):
        generator = np.random.default_rng((seed, 6, k))
        kept: list[FloatArray] = []
        for attempt in range(_MOST_ATTEMPTS):
            drawn = _one_population(wanted, components[picked[k]], per_population, generator)
            is_set = np.all(drawn[:, n_ages:] >= MEASURABLE_MPA, axis=1)
            if attempt == 0:  # later attempts favour populations that set late
                n_put_aside += int((~is_set).sum())
            kept.extend(drawn[is_set])
            if len(kept) >= per_population:
                break
        rows += kept[:per_population]
        numbers += [k] * min(len(kept), per_population)
    share_not_set = n_put_aside / (n_populations * per_population)
    strength = np.array(rows).reshape(-1, n_ages + len(wanted.check_age_h))[:n_batches]
    return (
        strength[:, :n_ages],
        strength[:, n_ages:],
        np.array(numbers, dtype=np.int64)[:n_batches],
        share_not_set,
    )


def _one_population(wanted: Wanted, component: Component, n_batches: int, generator: np.random.Generator) -> FloatArray:
    """True strengths [MPa] of batches of one drawn population, ``(n_batches, n_ages + n_checks)``."""
    which = int(generator.integers(len(component.mean)))
    q_k = float(generator.uniform(*wanted.q_range_k))
    maturity_h = wanted.true_maturity_h(q_k)
    parameters = (
        component.mean[which]
        + generator.standard_normal((n_batches, component.family.n_parameters)) @ component.root[which].T
    )
    law = component.family.log_strength(maturity_h, parameters, reference_h=component.reference_h)
    common = continued(
        component.mix_departure[which],
        component.known_h,
        maturity_h,
        float(component.mix_size[which]),
        generator,
    )
    common = common + outside(
        maturity_h,
        component.known_h,
        lambda at_h: component.family.log_strength(at_h, component.mean[which], reference_h=component.reference_h),
        generator,
    )
    own = smooth_draws(maturity_h, float(component.batch_size[which]), n_batches, generator)
    loss = max(generator.normal(*CROSSOVER), 0.0)
    return np.asarray(np.exp(law + common + own) * crossover_factor(maturity_h, wanted.warmer_k(), loss=loss))


def _ages(settings: Settings, ages_h: tuple[float, ...]) -> FloatArray:
    """Every age that a schedule may hold, after final set, rising."""
    compared = [age for schedule in settings.compare for age in schedule.ages_h]
    wanted = {*settings.choices.ages_h, *settings.choices.required_ages_h, *compared, *ages_h}
    return np.array(sorted(age for age in wanted if age >= settings.final_set_h and age > 0))


def _components(population: Population, only_family: str | None) -> tuple[Component, ...]:
    if only_family is None:
        return population.components
    found = tuple(item for item in population.components if item.family.name == only_family)
    if not found:
        known = ", ".join(item.family.name for item in population.components)
        raise InputError([Problem("plan", f'No growth family "{only_family}". Known are {known}.')])
    return found


def _cells(population: Population, settings: Settings, used: tuple[MaturitySetting, ...], drawn: _Batches) -> Cells:
    wanted, n_batches, kept = drawn.wanted, len(drawn.strength_mpa), drawn.is_checked.ravel()
    names = tuple(f"drawn {i + 1}" for i in range(n_batches))
    scatter = _scatter(population, settings)
    first_h = population.tested_ages_h[0] if population.tested_ages_h else float(wanted.ages_h[0])
    maturity_h = np.repeat(wanted.cell_maturity_h(used)[:, None, :], n_batches, axis=1)
    n_specimens = np.full(drawn.strength_mpa.shape, TRUE)
    n_kept = np.stack([drawn.is_checked[:, wanted.check_target == t].sum(axis=1) for t in wanted.check_target], axis=1)
    return Cells(
        ages_h=wanted.ages_h,
        is_candidate=np.asarray(np.isin(wanted.ages_h, settings.choices.ages_h) & drawn.is_strong),
        cv=scatter_at(scatter, wanted.ages_h, first_h=first_h),
        target_ages_h=settings.target.ages_h,
        target_waits_mpa=settings.target.waits_mpa,
        settings=used,
        unit_names=names,
        views=Views(
            unit=np.arange(n_batches),
            batch=names,
            mix=tuple(f"population {k + 1}" for k in drawn.population),
            mean_mpa=drawn.strength_mpa,
            n_specimens=n_specimens,
            maturity_h=maturity_h,
            whole=WholeCells(drawn.strength_mpa, n_specimens, maturity_h),
        ),
        checks=Checks(
            view=np.repeat(np.arange(n_batches), len(wanted.check_age_h))[kept],
            target=np.tile(wanted.check_target, n_batches)[kept],
            truth_mpa=drawn.truth_mpa.ravel()[kept],
            n_specimens=np.full(int(kept.sum()), TRUE),
            cv=np.tile(scatter_at(scatter, wanted.check_age_h, first_h=first_h), n_batches)[kept],
            maturity_h=np.ascontiguousarray(np.tile(wanted.check_maturity_h(used), n_batches)[:, kept]),
            weight=(1.0 / n_kept).ravel()[kept],
            condition=tuple(
                condition for condition, is_kept in zip(wanted.conditions() * n_batches, kept, strict=True) if is_kept
            ),
            conversion_cv=np.zeros(int(kept.sum())),
        ),
        site_cured=SiteCuredCompanions.none(len(used)),
        scatter=scatter,
        cautions=(),
        checked_against="drawn",
        checked_by_batch=(),
        n_breaks=population.breaks.n_breaks if population.breaks else 0,
    )


def _scatter(population: Population, settings: Settings) -> Scatter:
    return population.breaks.scatter if population.breaks else within_test_scatter((), settings.prior)


def _not_set(settings: Settings, share: float) -> Problem:
    ages = ", ".join(age_label(age) for age in settings.target.ages_h)
    return Problem(
        "plan",
        f"{100 * share:.0f} % of the drawn batches have no strength yet at a target ({ages}) in the coolest concrete "
        "stated. Predict later ages, narrow [site], or state [mix] final_set_h.",
        column="target.ages",
    )
