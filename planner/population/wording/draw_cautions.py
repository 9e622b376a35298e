"""What the reader of an answer from drawn batches must know."""

from __future__ import annotations

import numpy as np

from planner.population.population_model import Population
from planner.population.wording.site_cautions import site_cautions
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.labels import age_label
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution

FLATTERING_SHARE = 0.9  # of batches drawn from a family that may also be fitted
SHARE_WORTH_SAYING = 0.02


def draw_cautions(
    population: Population,
    settings: Settings,
    ages_h: FloatArray,
    is_strong: BoolArray,
    share_not_set: float,
    only_family: str | None,
) -> tuple[Caution, ...]:
    """Gather everything there is to say of one set of drawn batches."""
    return (
        *population.cautions,
        *site_cautions(settings, population.standard_c),
        *_untested(population, settings),
        *_too_weak(settings, ages_h, is_strong),
        *_not_set(share_not_set),
        *_one_family(population, only_family),
    )


def nearest_tested_h(population: Population, age_h: float) -> float | None:
    """Tested age nearest in the logarithm of age [h]; None with published growth."""
    if not population.tested_ages_h:
        return None
    return min(population.tested_ages_h, key=lambda tested: abs(np.log(tested / age_h)))


def untested_ages(population: Population, ages_h: tuple[float, ...]) -> tuple[float, ...]:
    """Those of `ages_h` that no batch was broken at."""
    return tuple(age for age in ages_h if not np.any(np.isclose(age, population.tested_ages_h)))


def _untested(population: Population, settings: Settings) -> tuple[Caution, ...]:
    if population.grade == "published":
        return ()
    target = settings.target  # a strength that is waited for is no age that anybody breaks at
    read_at = {age for age, waits_mpa in zip(target.ages_h, target.waits_mpa, strict=True) if waits_mpa is None}
    wanted = tuple(sorted({*settings.choices.ages_h, *read_at}))
    untested = untested_ages(population, tuple(age for age in wanted if age >= settings.final_set_h))
    if not untested:
        return ()
    named = ", ".join(map(age_label, untested))
    nearest = ", ".join(dict.fromkeys(age_label(nearest_tested_h(population, age) or age) for age in untested))
    return (
        Caution(
            "untested-ages",
            f"Nobody has broken this mix at {named}. Strengths there are drawn from what the broken ages say, wider "
            f"the further away from the nearest ({nearest}). Break a batch at the target ages before trusting the "
            "error.",
        ),
    )


def _too_weak(settings: Settings, ages_h: FloatArray, is_strong: BoolArray) -> tuple[Caution, ...]:
    weak = [age_label(float(age)) for age in ages_h[~is_strong] if age in settings.choices.ages_h]
    if not weak:
        return ()
    return (
        Caution(
            "drawn-too-weak",
            f"Not offered, because more than 5 % of the drawn batches cannot be broken there yet: {', '.join(weak)}.",
        ),
    )


def _not_set(share_not_set: float) -> tuple[Caution, ...]:
    if share_not_set < SHARE_WORTH_SAYING:
        return ()
    return (
        Caution(
            "drawn-not-set",
            f"{100 * share_not_set:.0f} % of the drawn batches have no strength yet at a target in the "
            "coolest concrete; errors speak of the others. Measure the setting time.",
        ),
    )


def unchecked_caution(share: float, least_mpa: float) -> tuple[Caution, ...]:
    """Say how many checks are left out because nothing could be broken there."""
    if share < SHARE_WORTH_SAYING:
        return ()
    return (
        Caution(
            "drawn-too-weak-to-check",
            f"At {100 * share:.0f} % of the checks of drawn batches the concrete has less than {least_mpa:g} MPa and "
            "could not be broken; errors speak of the others. Predict later ages or narrow [site].",
        ),
    )


def _one_family(population: Population, only_family: str | None) -> tuple[Caution, ...]:
    is_fitted = {item.family.name for item in population.components if item.family.is_fitted}
    heavy = [
        name
        for name, weight in population.weights()
        if name in is_fitted and (name == only_family or (only_family is None and weight > FLATTERING_SHARE))
    ]
    if not heavy:
        return ()
    return (
        Caution(
            "one-family-truth",
            f"The drawn batches grow by the {heavy[0]} law, which is also among the curves that may be fitted: "
            "that curve, and the error, look better than they are.",
        ),
    )
