"""The casting time of one schedule that asks least of the laboratory."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from planner.laboratory.casting.attendance_prices import casting_price, companions_price, price_and_rank
from planner.laboratory.casting.visits import Window, count_visits, visit_table
from planner.terms.arrays import BoolArray
from planner.terms.labels import clock_label
from planner.terms.plan.settings import Costs, Laboratory
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class CastingAdvice:
    """The casting time that asks least of the laboratory."""

    cast_at: dt.datetime  # aware; only weekday and hour count where it is not dated
    is_dated: bool
    label: str  # "Monday 21:30" or "2027-03-01 21:30"
    n_visits: int  # attendances of one trial batch
    n_outside: int  # those outside laboratory hours
    visit_cost: float | None  # of one trial batch; None where no prices are given
    n_equal: int  # casting times that do as well, this one included
    n_castings: int  # casting times looked at
    is_casting_outside_hours: bool


def best_casting(
    schedule: Schedule,
    laboratory: Laboratory,
    costs: Costs | None,
    window: Window | None = None,
    *,
    companions: Schedule | None = None,
) -> CastingAdvice:
    """Find the casting time with the cheapest attendances.

    The calibration decides, as its sum is what programmes are compared by and what a money limit holds for; among times
    that are alike to it the companions.

    Parameters
    ----------
    schedule
        Ages with their specimens.
    laboratory
        Hours and zone.
    costs
        Prices of attendances; None or zero prices: the fewest outside hours, then the fewest.
    window
        First and last casting time offered, half an hour apart; twice the same time looks at that one
        alone. None: every half hour of the casting hours in a week without dates, when closed dates and clock
        changes count for nothing.

    Raises
    ------
    ValueError
        The window ends before it begins, or the zone is not known.
    """
    table = visit_table(schedule.ages_h, laboratory, window, specimens=schedule.specimens)
    counts = count_visits(np.ones((1, schedule.n_ages), dtype=np.bool_), table)
    n_visits = counts.n_visits[0].astype(np.int64)
    n_outside = counts.n_outside[0].astype(np.int64)
    price, rank = price_and_rank(n_visits, n_outside, table.is_casting_outside, costs)
    is_cheapest = price == price.min()
    is_equal = is_cheapest & (rank == rank[is_cheapest].min())
    if companions is not None and not laboratory.is_always_open:  # else no hour is named that they could ask for
        is_equal &= _is_best_for(companions, laboratory, costs, window, is_equal)
    slot = int(np.argmax(is_equal))
    return CastingAdvice(
        cast_at=table.cast_at[slot],
        is_dated=table.is_dated,
        label=casting_label(table.cast_at[slot], is_dated=table.is_dated),
        n_visits=int(n_visits[slot]),
        n_outside=int(n_outside[slot]),
        visit_cost=None if costs is None else float(price[slot]) - casting_price(table.is_casting_outside, costs)[slot],
        n_equal=int(is_equal.sum()),
        n_castings=len(table.cast_at),
        is_casting_outside_hours=bool(table.is_casting_outside[slot]),
    )


def companions_schedule(targets_h: tuple[float, ...], n_each: int) -> Schedule | None:
    """Companions of one trial batch; None where there are none. Two strengths may be reached at one age."""
    ages_h = tuple(dict.fromkeys(targets_h)) if n_each else ()
    return Schedule(ages_h, (n_each,) * len(ages_h)) if ages_h else None


def _is_best_for(
    companions: Schedule, laboratory: Laboratory, costs: Costs | None, window: Window | None, is_equal: BoolArray
) -> BoolArray:
    """Which casting times ask least of those who break the companions, of those that are equal otherwise."""
    table = visit_table(companions.ages_h, laboratory, window, specimens=companions.specimens)
    counts = count_visits(np.ones((1, companions.n_ages), dtype=np.bool_), table)
    n_visits, n_outside = counts.n_visits[0].astype(np.int64), counts.n_outside[0].astype(np.int64)
    price = companions_price(n_visits - n_outside, n_outside, costs)
    is_least = price == price[is_equal].min()
    return np.asarray(is_least & (n_visits == n_visits[is_equal & is_least].min()))


def casting_label(cast_at: dt.datetime, *, is_dated: bool) -> str:
    """Name a casting time: by date, or by weekday and hour where there is no date."""
    return clock_label(cast_at, "%Y-%m-%d %H:%M") if is_dated else f"{WEEKDAYS[cast_at.weekday()]} {cast_at:%H:%M}"


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
