"""The breaks on the clock: a row for each day that has one, with permitted windows and laboratory hours."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from planner.laboratory.clock.break_slots import BreakSlot, BreakTimes
from planner.report.accounts.clock.slip_account import moved_words
from planner.report.figures.drawing.plot import Area, Axis, Marks, Note, Plot
from planner.report.figures.drawing.ticks import row_axis
from planner.terms.labels import age_label, clock_label
from planner.terms.plan.settings import Laboratory

ROW_PX = 34.0
HALF_HEIGHT = 0.28
CAST, DAY_AND_TIME, LIMIT, TIME = "%a %d %b %Y %H:%M", "%a %d %b %H:%M", "%a %H:%M", "%H:%M"


def week_plots(castings: Sequence[BreakTimes], laboratory: Laboratory) -> tuple[Plot, ...]:
    """One picture for each casting, each with a name of its own."""
    plots = [week_plot(times, laboratory) for times in castings]
    return tuple(
        replace(plot, name=f"week-{place}") if len(plots) > 1 else plot for place, plot in enumerate(plots, start=1)
    )


def week_plot(times: BreakTimes, laboratory: Laboratory) -> Plot:
    """Casting and breaks by day and hour."""
    days = sorted({times.cast_at.date(), *(slot.starts_at.date() for slot in times.slots)})
    up = row_axis(day.strftime("%a %d %b %Y") for day in days)
    row_of = {day: float(len(days) - 1 - place) for place, day in enumerate(days)}
    layers: list[Area | Marks | Note] = []
    if not laboratory.is_round_the_clock:
        open_days = [day for day in days if _is_open(day, laboratory)]
        layers += [
            _hours(row_of[day], laboratory, label="" if place else "laboratory hours")
            for place, day in enumerate(open_days)
        ]
    cast_row = row_of[times.cast_at.date()]
    layers.append(
        Marks(
            points=((_hour(times.cast_at), cast_row),),
            radius_px=(6.0,),
            shape="diamond",
            tone="strong",
            hints=("casting",),
            label="casting",
        )
    )
    layers.append(Note(at=(_hour(times.cast_at), cast_row), text="cast", anchor="middle", shift_px=(0.0, 10.0)))
    for place, slot in enumerate(times.slots):
        layers += _slot(slot, row_of[slot.starts_at.date()], label="break" if place == 0 else "")
    listed = "; ".join(f"{age_label(slot.age_h)} {clock_label(slot.starts_at, DAY_AND_TIME)}" for slot in times.slots)
    ticks = tuple((float(hour), f"{hour:02d}:00") for hour in range(0, 25, 3))
    return Plot(
        name="week",
        title="Casting and breaks on the clock",
        description=f"Cast {clock_label(times.cast_at, CAST)}; breaks: {listed}.",
        caption="Dots: when the first specimen of an age goes in."
        + ("" if laboratory.is_round_the_clock else " Shaded: laboratory hours."),
        across=Axis(
            title="UTC" if laboratory.time_zone == "UTC" else f"local time, {laboratory.time_zone}",
            low=0.0,
            high=24.0,
            ticks=ticks,
        ),
        up=up,
        layers=tuple(layers),
        height_px=84.0 + ROW_PX * len(days),
        left_px=120.0,
    )


def _hour(clock: dt.datetime) -> float:
    return clock.hour + clock.minute / 60.0


def _is_open(day: dt.date, laboratory: Laboratory) -> bool:
    return day.weekday() in laboratory.days and day not in laboratory.closed


def _hours(row: float, laboratory: Laboratory, *, label: str) -> Area:
    opens = laboratory.opens.hour + laboratory.opens.minute / 60.0
    closes = laboratory.closes.hour + laboratory.closes.minute / 60.0
    if closes <= opens:
        closes = 24.0
    low, high = row - HALF_HEIGHT, row + HALF_HEIGHT
    return Area(points=((opens, low), (closes, low), (closes, high), (opens, high)), label=label)


def _slot(slot: BreakSlot, row: float, *, label: str) -> list[Area | Marks | Note]:
    start = _hour(slot.starts_at)
    text = f"{age_label(slot.age_h)} x{slot.n_specimens}"
    window = f"{clock_label(slot.earliest_at, LIMIT)} to {clock_label(slot.latest_at, LIMIT)}"
    hint = f"{text}: {clock_label(slot.starts_at, TIME)}, window {window}"
    hint += f", {moved_words(slot)}" if slot.is_moved else ""
    return [
        Marks(points=((start, row),), radius_px=(6.0,), tone="main", hints=(hint,), label=label),
        Note(at=(start, row), text=text, anchor="middle", shift_px=(0.0, 10.0)),
    ]
