"""Windows of strengths on the clock: which hours open and close them, and the clock going forward."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.strength_windows import strength_windows
from planner.report.accounts.clock.window_account import expected_words
from planner.terms.results.waiting import HoursAt, Wait, Waiting

CAST = dt.datetime(2027, 3, 27, 20, 0, tzinfo=ZoneInfo("Europe/Oslo"))  # clocks go forward that night
Hours = tuple[float | None, float | None, float | None]


def answer(warm: Hours, cool: Hours) -> Waiting:
    """One strength at 20 MPa, cool concrete first."""
    hours = tuple(
        HoursAt(temperature_c=temperature, earliest_h=earliest, likely_h=likely, safe_h=safe)
        for temperature, (earliest, likely, safe) in ((8.0, cool), (20.0, (1.0, 2.0, 500.0)), (32.0, warm))
    )
    wait = Wait(
        strength_mpa=20.0, age_h=12.0, n_batches=5, left_out=(), interpolation_rms=None, own_rms_h=None,
        later_rms_h=None, hours=hours,
    )  # fmt: skip
    return Waiting(waits=(wait,), reference_c=20.0, n_curves=5, safe_factor=None, assurance=0.9, growth=())


TIMES = BreakTimes(cast_at=CAST, slots=(), attendances=(), warnings=())


@pytest.mark.parametrize(
    ("warm", "cool", "opens_h", "closes_h", "is_safe"),
    [
        ((4.0, 5.0, 7.0), (10.0, 14.0, 20.5), 4.0, 20.5, True),
        ((None, 5.0, 7.0), (10.0, 14.0, None), 5.0, 14.0, False),
    ],
)
def test_warmest_opens_and_coolest_closes(
    warm: Hours, cool: Hours, opens_h: float, closes_h: float, is_safe: bool
) -> None:
    (window,) = strength_windows(answer(warm, cool), TIMES)
    assert (window.warmest_c, window.coolest_c, window.is_safe) == (32.0, 8.0, is_safe)
    for at, hours in ((window.opens_at, opens_h), (window.closes_at, closes_h)):
        assert at.astimezone(dt.UTC) - CAST.astimezone(dt.UTC) == dt.timedelta(hours=hours)
    # 20:00 and 20.5 h through the lost hour is 17:30 on the wall
    assert f"{window.closes_at:%H:%M}" == ("17:30" if is_safe else "11:00")
    first, said = expected_words(answer(warm, cool), TIMES)
    assert ("(safe, concrete at 8 C)" if is_safe else "(likely, concrete at 8 C)") in first
    assert "(earliest, concrete at 32 C)" in first
    assert said.endswith("it is no reading of a pour.")


@pytest.mark.parametrize(("warm", "cool"), [((None, None, 7.0), (1.0, 2.0, 3.0)), ((1.0, 2.0, 3.0), (1.0, None, None))])
def test_without_an_end_no_window_and_it_is_said(warm: Hours, cool: Hours) -> None:
    assert strength_windows(answer(warm, cool), TIMES) == ()
    assert expected_words(answer(warm, cool), TIMES)[0].startswith("20 MPa: not dated")


def test_plans_of_ages_have_none() -> None:
    assert strength_windows(None, TIMES) == ()
    assert expected_words(None, TIMES) == ()
