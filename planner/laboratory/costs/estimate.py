"""One schedule counted and priced, ready to be put beside others."""

from __future__ import annotations

from collections.abc import Sequence

from planner.laboratory.casting.any_hour import most_visits_at_any_hour
from planner.laboratory.casting.best_casting import CastingAdvice, best_casting, companions_schedule
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.clock.opening_hours import without_dates
from planner.laboratory.costs.cost_items import itemise
from planner.laboratory.costs.cost_sums import calibration_cost, open_items
from planner.laboratory.quantities.programme_totals import WASTE, whole_programme
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.geometry import specimen_litres
from planner.terms.plan.settings import CastingWindow, Costs, Laboratory, ProgrammeSettings
from planner.terms.records import Records
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import ANY_HOUR, BreakHour, Estimate
from planner.terms.schedule import Schedule

NO_PRICES = Costs(currency="")


def estimate(
    label: ChoiceRole,
    schedule: Schedule,
    *,
    programme: ProgrammeSettings,
    costs: Costs | None,
    laboratory: Laboratory | None,
    within_test_cv: tuple[float, ...],
    geometry: str = "",
    windows: Sequence[CastingWindow] = (),
    targets_h: tuple[float, ...] = (),
    pour_breaks: PourBreaks | None = None,
) -> Estimate:
    """Count the whole programme of one schedule and price it at its cheapest casting hour.

    Without prices the lines carry their quantities and no total is given: nothing is assumed.

    Parameters
    ----------
    within_test_cv
        Scatter of replicates at each age of the schedule, relative.
    geometry
        Like ``cylinder 100x200 mm``; one that cannot be read leaves the concrete volume open.
    windows
        Castings asked for, one for all trial batches or one each; none: the cheapest hour of a week.
    targets_h, pour_breaks
        As in :func:`planner.laboratory.costs.cost_items.itemise`.
    """
    hours = laboratory or Laboratory()
    companions = companions_schedule(targets_h, programme.companions_per_check)
    castings = tuple(
        best_casting(schedule, hours, costs, window, companions=companions) for window in windows or (None,)
    )
    items = itemise(
        schedule, costs or NO_PRICES, programme, laboratory, castings, targets_h=targets_h, pour_breaks=pour_breaks
    )
    is_any_hour = without_dates(hours).is_always_open and hours.casting_hours is None and not windows
    readable = readable_geometry(geometry)
    return Estimate(
        label=label,
        schedule=schedule,
        count=whole_programme(schedule, programme, within_test_cv, readable, n_targets=len(targets_h)),
        casting=ANY_HOUR if is_any_hour else " and ".join(casting.label for casting in castings),
        n_visits=max(casting.n_visits for casting in castings),
        n_outside=max(casting.n_outside for casting in castings),
        n_visits_at_most=most_visits_at_any_hour(schedule) if is_any_hour else None,
        items=items,
        total=None if costs is None else calibration_cost(items),
        open_items=() if costs is None else open_items(items),
        n_castings_asked=len(windows),
        break_hours=() if is_any_hour else _break_hours(schedule, hours, castings[0]),
    )


def _break_hours(schedule: Schedule, laboratory: Laboratory, casting: CastingAdvice) -> tuple[BreakHour, ...]:
    """Times of a week without dates: no closed date and no change of the clock counts there."""
    week = laboratory if casting.is_dated else without_dates(laboratory)
    times = break_times(schedule, week, cast_at=casting.cast_at)
    return tuple(
        BreakHour(
            age_h=slot.age_h,
            n_specimens=slot.n_specimens,
            day=(slot.starts_at.date() - times.cast_at.date()).days,
            weekday=slot.starts_at.weekday(),
            starts=slot.starts_at.time(),
            ends=slot.ends_at.time(),
            is_outside_hours=not slot.is_inside_hours,
            visit=slot.visit,
        )
        for slot in times.slots
    )


def readable_geometry(geometry: str) -> str:
    """The words if a volume can be read from them, else nothing: several geometries have no one volume."""
    try:
        specimen_litres(geometry)
    except ValueError:
        return ""
    return geometry


def litres_of_one(geometry: str) -> float | None:
    """Concrete mixed for one specimen, waste included [L]; None where the words do not tell."""
    readable = readable_geometry(geometry)
    return specimen_litres(readable) * (1 + WASTE) if readable else None


def geometry_of(records: Records) -> str:
    """The one geometry of the records, nothing where they have several or name none."""
    geometries = {item.geometry for item in records.breaks if item.geometry}
    return next(iter(geometries)) if len(geometries) == 1 else ""
