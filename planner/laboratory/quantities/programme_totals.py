"""What must be cast, broken and mixed for a whole calibration, not only its schedule."""

from __future__ import annotations

import math

from planner.terms.plan.geometry import specimen_litres
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.plan.third_specimen import third_specimen_rule
from planner.terms.results.programme_count import ProgrammeCount
from planner.terms.schedule import Schedule

WASTE = 0.10  # concrete mixed beyond what the moulds hold: common practice, no source
ROUNDING = 1e-9  # 10 % of 30 is 3, not 4


def whole_programme(
    schedule: Schedule,
    programme: ProgrammeSettings,
    within_test_cv: float | tuple[float, ...],
    geometry: str = "",
    *,
    n_targets: int = 0,
) -> ProgrammeCount:
    """Count everything a calibration takes.

    Parameters
    ----------
    schedule
        Ages with their specimens, for one trial batch.
    programme
        Instrumented specimens, spares, site checks, trial batches.
    within_test_cv
        Scatter of replicates, relative; one figure or one for each age.
    geometry
        Like ``cylinder 100x200 mm``; empty where it is not known.
    n_targets
        Ages at which site-cured companions of every trial batch are broken, to accept its curve.

    Raises
    ------
    ValueError
        The scatter does not fit the ages, or the geometry cannot be read.
    """
    cv_by_age = _cv_by_age(within_test_cv, schedule)
    n_spares = n_spares_for(schedule.n_specimens, programme)
    n_acceptance = programme.companions_per_check * n_targets
    per_batch = schedule.n_specimens + n_spares + programme.instrumented + n_acceptance
    n_companions = programme.companions_per_check * programme.n_checks
    third = third_specimen_rule(geometry)
    thirds = sum(
        third_break_probability(cv, third.most_range)
        for cv, count in zip(cv_by_age, schedule.specimens, strict=True)
        if count == 2
    )
    litres_each = specimen_litres(geometry) * (1 + WASTE) if geometry.strip() else None
    return ProgrammeCount(
        n_trial_batches=programme.trial_batches,
        n_schedule=schedule.n_specimens * programme.trial_batches,
        n_spares=n_spares * programme.trial_batches,
        n_instrumented=programme.instrumented * programme.trial_batches,
        n_checks=programme.n_checks,
        n_companions=n_companions,
        n_acceptance=n_acceptance * programme.trial_batches,
        expected_third_breaks=thirds * programme.trial_batches,
        third=third,
        n_moulds=max(per_batch, programme.companions_per_check if programme.n_checks else 0),
        litres_per_trial_batch=None if litres_each is None else litres_each * per_batch,
        litres=None if litres_each is None else litres_each * (per_batch * programme.trial_batches + n_companions),
    )


def n_spares_for(n_specimens: int, programme: ProgrammeSettings) -> int:
    """Spares of one trial batch: their share of the schedule's specimens, rounded up."""
    return math.ceil(programme.spares * n_specimens - ROUNDING)


def third_break_probability(within_test_cv: float, most_range: float) -> float:
    """How likely two replicates differ by more than a share of their mean.

    With independent normal strengths of mean 1 and deviation c, their difference less the share r of
    their mean is normal with mean -r and variance 2 c^2 + r^2 c^2 / 2; either may be the stronger.

    Parameters
    ----------
    within_test_cv
        Scatter of replicates, relative.
    most_range
        The share r, from :func:`planner.terms.plan.third_specimen.third_specimen_rule`.
    """
    if not 0 <= within_test_cv < 1:
        raise ValueError(f"The scatter of replicates must lie from 0 to below 100 %, given {within_test_cv:g}.")
    if within_test_cv == 0:
        return 0.0
    deviation = within_test_cv * math.sqrt(2.0 + most_range**2 / 2.0)
    return math.erfc(most_range / deviation / math.sqrt(2.0))


def _cv_by_age(within_test_cv: float | tuple[float, ...], schedule: Schedule) -> tuple[float, ...]:
    if isinstance(within_test_cv, tuple):
        if len(within_test_cv) != schedule.n_ages:
            raise ValueError(
                f"One scatter for each of the {schedule.n_ages} ages is needed, given {len(within_test_cv)}."
            )
        return within_test_cv
    return (within_test_cv,) * schedule.n_ages
