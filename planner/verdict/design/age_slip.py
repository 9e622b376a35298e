"""How far one break may slip and the schedule still keep 95 % of its own precision."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.plan.tolerances import age_tolerances
from planner.terms.results.age_slips import BreakSlip, Slip, SlipEnd
from planner.terms.schedule import Schedule
from planner.verdict.design.efficiency import PlacementLimit

KEPT = 0.95  # share of the schedule's own precision
N_STEPS = 16  # from an age to where its slip must end, in equal ratios of age
EXACT = 1e-10  # relative, of the age at which the share is crossed


def slip_of(limit: PlacementLimit | None, schedule: Schedule, *, standard: str) -> Slip | None:
    """How much earlier and later each break may come, the others staying where they are.

    Precision is the inverse of the variance of the predicted strength at the targets, as in `PlacementLimit`;
    what is kept of it is the variance of the schedule as planned over that with the one age moved. The curve
    is taken to be fitted with the actual age, so a slip costs precision and brings no bias. A break that is
    entered at its nominal age instead is biased, and the standard's window is what counts.

    Moving a break may also raise the precision. The slip in a direction ends at the first age where less than
    `KEPT` is left, or where the break meets its neighbour or leaves the recorded ages.

    Parameters
    ----------
    limit
        Curves, maturities and scatter of the batches; None where there are none.
    standard
        Age tolerances that the slip is put beside.

    Returns
    -------
    None where nothing can be computed: no limit, an age outside the recorded ones, or ages that do not
    determine the target.
    """
    if limit is None:
        return None
    youngest_h, oldest_h = limit.span_h
    if not (youngest_h <= schedule.ages_h[0] and schedule.last_age_h <= oldest_h):
        return None
    planned = limit.variance_of(schedule.ages_h, schedule.specimens)
    if not (np.isfinite(planned) and planned > 0.0):
        return None
    tolerances = age_tolerances(standard)
    ages_h = (youngest_h, *schedule.ages_h, oldest_h)
    found = []
    for place, age_h in enumerate(schedule.ages_h):
        kept = _kept_by(limit, schedule, place, planned)
        earlier_h, earlier_ends = _reach(limit, kept, age_h, ages_h[place], is_last=place == 0)
        later_h, later_ends = _reach(limit, kept, age_h, ages_h[place + 2], is_last=place == schedule.n_ages - 1)
        found.append(
            BreakSlip(
                age_h=age_h,
                earlier_h=earlier_h,
                later_h=later_h,
                earlier_ends=earlier_ends,
                later_ends=later_ends,
                permitted_h=tolerances.deviation_h(age_h),
            )
        )
    return Slip(kept=KEPT, standard=standard, breaks=tuple(found))


def _kept_by(limit: PlacementLimit, schedule: Schedule, place: int, planned: float) -> Callable[[FloatArray], float]:
    """Share of the precision that is kept with the break at this place telling something else instead."""
    fixed = limit.sensitivities_at(schedule.ages_h)

    def kept(given: FloatArray) -> float:
        moved = fixed.copy()
        moved[:, place] = given
        return planned / limit.variance_with(moved, schedule.specimens)

    return kept


def _reach(
    limit: PlacementLimit, kept: Callable[[FloatArray], float], age_h: float, end_h: float, *, is_last: bool
) -> tuple[float, SlipEnd]:
    """How far towards `end_h` the break may go [h], and what ends it."""
    from scipy.optimize import brentq

    def spare(at_h: float) -> float:
        return kept(limit.sensitivities_at((at_h,))[:, 0]) - KEPT

    if age_h != end_h:
        steps_h = tuple(np.geomspace(age_h, end_h, N_STEPS + 1).tolist())
        found = limit.sensitivities_at(steps_h)
        for step in range(1, N_STEPS + 1):
            if kept(found[:, step]) < KEPT:
                crossed_h = float(brentq(spare, steps_h[step - 1], steps_h[step], xtol=EXACT * age_h))
                return abs(crossed_h - age_h), "precision"
    return abs(end_h - age_h), "records" if is_last else "neighbour"
