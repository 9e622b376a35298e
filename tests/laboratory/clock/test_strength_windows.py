"""Windows of strengths on the clock: which hours open and close them, and the clock going forward."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.strength_windows import strength_windows
from planner.report.accounts.clock.window_account import expected_words
from planner.terms.results.waiting import GrowthAt, HoursAt, Wait, Waiting

CAST = dt.datetime(2027, 3, 27, 20, 0, tzinfo=ZoneInfo("Europe/Oslo"))  # clocks go forward that night
Hours = tuple[float | None, float | None, float | None]
FIRST_BREAK_H = {8.0: 9.0, 20.0: 5.0, 32.0: 3.0}  # at each temperature


def answer(warm: Hours, cool: Hours, *, factor: float | None = 1.3) -> Waiting:
    """One strength at 20 MPa, cool concrete first."""
    hours = tuple(
        HoursAt(temperature_c=temperature, earliest_h=earliest, likely_h=likely, safe_h=safe)
        for temperature, (earliest, likely, safe) in ((8.0, cool), (20.0, (1.0, 2.0, 500.0)), (32.0, warm))
    )
    wait = Wait(
        strength_mpa=20.0, age_h=12.0, n_batches=5, left_out=(), left_out_elsewhere=(), interpolation_rms=None,
        own_rms_h=None, later_rms_h=None, hours=hours,
    )  # fmt: skip
    growth = tuple(
        GrowthAt(temperature_c=temperature_c, points=((first_h, 15.0), (40.0 * first_h, 40.0)))
        for temperature_c, first_h in FIRST_BREAK_H.items()
    )
    return Waiting(
        waits=(wait,), reference_c=20.0, n_curves=5, safe_factor=factor, assurance=0.9, growth=growth
    )  # fmt: skip


TIMES = BreakTimes(cast_at=CAST, slots=(), attendances=(), warnings=())
WITHIN = (10.0, 14.0, 20.5)


@pytest.mark.parametrize(
    ("warm", "cool", "factor", "opens", "closes"),
    [
        ((4.0, 5.0, 7.0), WITHIN, 1.3, (4.0, "earliest"), (20.5, "safe")),
        ((None, 5.0, 7.0), WITHIN, 1.3, (3.0, "first break age"), (20.5, "safe")),
        ((4.0, 5.0, None), (10.0, 14.0, None), 1.3, (4.0, "earliest"), (14.0, "likely")),
        ((None, 5.0, None), (None, 14.0, None), None, (5.0, "likely"), (14.0, "likely")),
    ],
)
def test_warmest_opens_and_coolest_closes(
    warm: Hours, cool: Hours, factor: float | None, opens: tuple[float, str], closes: tuple[float, str]
) -> None:
    (window,) = strength_windows(answer(warm, cool, factor=factor), TIMES)
    assert (window.warmest_c, window.coolest_c) == (32.0, 8.0)
    for at, (hours, _) in ((window.opens_at, opens), (window.closes_at, closes)):
        assert at.astimezone(dt.UTC) - CAST.astimezone(dt.UTC) == dt.timedelta(hours=hours)
    # 20:00 and 20.5 h through the lost hour is 17:30 on the wall
    assert f"{window.closes_at:%H:%M}" == ("17:30" if closes[1] == "safe" else "11:00")
    first, said = expected_words(answer(warm, cool, factor=factor), TIMES)
    assert f"({opens[1]}, concrete at 32 C)" in first
    assert f"({closes[1]}, concrete at 8 C)" in first
    assert ("before the first break age" in first) == (opens[1] == "first break age")
    assert ("safe hour comes after the last break age" in first) == (factor is not None and closes[1] == "likely")
    assert said.endswith("it is no reading of a pour.")


@pytest.mark.parametrize(
    ("warm", "cool", "says"),
    [
        ((None, None, 7.0), (1.0, 2.0, 3.0), "never gains it"),
        ((1.0, 2.0, 3.0), (1.0, None, None), "concrete at 8 C never gains it"),
    ],
)
def test_without_an_end_no_window_and_it_is_said(warm: Hours, cool: Hours, says: str) -> None:
    assert strength_windows(answer(warm, cool), TIMES) == ()
    first = expected_words(answer(warm, cool), TIMES)[0]
    assert first.startswith("20 MPa: not dated")
    assert says in first


def test_beyond_the_curve_at_every_temperature_nothing_is_dated() -> None:
    found = answer((None, None, None), (None, None, None))
    hours = tuple(replace(at, earliest_h=None, likely_h=None, safe_h=None) for at in found.waits[0].hours)
    found = replace(found, waits=(replace(found.waits[0], hours=hours),))
    assert expected_words(found, TIMES)[0].endswith("its hours lie outside the recommended break ages.")


def test_plans_of_ages_have_none() -> None:
    assert strength_windows(None, TIMES) == ()
    assert expected_words(None, TIMES) == ()
