"""The first screen: facts that are acted on, from the starter's own search and from invented values."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace

import pytest
from rich.console import Console

from planner.laboratory.costs.estimate import estimate
from planner.report.accounts.action_account import action_facts, action_section
from planner.report.text.words import break_hour_words
from planner.terms.plan.settings import Laboratory, ProgrammeSettings
from planner.terms.problems import Caution
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import BreakHour
from planner.terms.schedule import Schedule
from tests.report.invented_result import invented_recommendation
from tests.report.printed import print_recommendation
from tests.report.real_results import made_from
from tests.report.test_renderers_agree import on_terminal

WEEKDAYS = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo")


def hours_of(ages_h: tuple[float, ...], laboratory: Laboratory = WEEKDAYS) -> tuple[str, tuple[BreakHour, ...]]:
    found = estimate(
        ChoiceRole.RECOMMENDED,
        Schedule(ages_h, (2,) * len(ages_h)),
        programme=ProgrammeSettings(),
        costs=None,
        laboratory=laboratory,
        within_test_cv=(0.04,) * len(ages_h),
    )
    return found.casting, found.break_hours


@pytest.mark.parametrize("zone", ["UTC", "Europe/Oslo", "America/Denver", "Pacific/Auckland"])
def test_break_hours_count_from_the_casting_hour_on_the_laboratory_clock(zone: str) -> None:
    # Two specimens take 20 minutes, half of them before the age: 4 h after 07:00 they go in at 10:50.
    casting, (early, late) = hours_of((4.0, 7 * 24.0), replace(WEEKDAYS, time_zone=zone))
    assert casting == "Monday 07:00"
    assert (early.day, early.weekday, early.starts, early.ends) == (0, 0, dt.time(10, 50), dt.time(11, 10))
    # A week later 06:50 would be before opening: the break is moved inside its permitted window.
    assert (late.day, late.weekday, late.starts) == (7, 0, dt.time(7, 0))
    assert not early.is_outside_hours
    assert not late.is_outside_hours


def test_without_a_laboratory_no_hour_is_told() -> None:
    made = made_from(4)
    assert made.settings.laboratory is None
    assert made.told.estimate is None or made.told.estimate.break_hours == ()
    assert dict(action_facts(made.told))["Come in"] == (
        "2 visits, up to 3 by the casting hour, one for each calendar day with a break"
    )


def hour(day: int, weekday: int, starts: dt.time, *, outside: bool = False, visit: int = 0) -> BreakHour:
    return BreakHour(
        age_h=1.0, n_specimens=2, day=day, weekday=weekday, starts=starts, ends=starts, is_outside_hours=outside,
        visit=visit,
    )  # fmt: skip


def test_visits_by_day() -> None:
    hours = (
        hour(0, 0, dt.time(11)),
        hour(0, 0, dt.time(13, 30)),
        hour(0, 0, dt.time(22), outside=True, visit=1),
        hour(1, 1, dt.time(7), visit=2),
        hour(14, 0, dt.time(7), visit=3),
    )
    words = break_hour_words(hours)
    assert words == "Mon 11:00 and 13:30; Mon 22:00!; Tue 07:00, 1 day later; Mon 07:00, 14 days later"


def test_a_visit_past_midnight_is_one_entry() -> None:
    hours = (hour(0, 1, dt.time(23, 45)), hour(1, 2, dt.time(5, 45)), hour(2, 3, dt.time(7), visit=1))
    assert break_hour_words(hours) == "Tue 23:45 and Wed 05:45; Thu 07:00, 2 days later"


def test_entries_are_visits() -> None:
    advice = made_from(4, has_prices=True).told
    said = dict(action_facts(advice))["Come in"]
    assert said.startswith(f"{advice.recommended.n_visits} visits: ")
    assert len(said.partition(" (")[0].partition("; companions")[0].split("; ")) == advice.recommended.n_visits


def test_the_note_on_nights_stands_only_where_there_are_any() -> None:
    advice = made_from(4, has_prices=True).told
    assert advice.estimate is not None
    day = replace(advice, estimate=replace(advice.estimate, break_hours=(hour(0, 0, dt.time(11)),)))
    night = replace(advice, estimate=replace(advice.estimate, break_hours=(hour(0, 0, dt.time(23), outside=True),)))
    assert "outside laboratory hours" not in dict(action_facts(day))["Come in"]
    assert dict(action_facts(night))["Come in"].endswith("Mon 23:00! (!: outside laboratory hours)")


@pytest.mark.parametrize(
    ("share", "verdict"), [(0.8999, "NOT GOOD ENOUGH"), (0.90, "good enough"), (0.95, "good enough")]
)
def test_the_verdict_turns_at_the_assurance(share: float, verdict: str) -> None:
    advice = invented_recommendation()
    assert advice.honest.next_batch is not None
    later = replace(advice.honest.next_batch, within_tolerance=share)
    text = dict(action_facts(replace(advice, honest=replace(advice.honest, next_batch=later))))["Later pour"]
    assert text.endswith(f"90 % wanted: {verdict}")


def test_concrete_that_does_not_grow_is_good_enough_for_nothing() -> None:
    advice = invented_recommendation()
    assert advice.honest.next_batch is not None
    later = replace(advice.honest.next_batch, within_tolerance=0.99)
    sound = replace(advice, honest=replace(advice.honest, next_batch=later))
    flat = replace(
        sound, cautions=(*sound.cautions, Caution("strength-does-not-grow", "Strength does not grow with age in R1."))
    )
    assert dict(action_facts(sound))["Later pour"].endswith("90 % wanted: good enough")
    assert dict(action_facts(flat))["Later pour"].endswith("90 % wanted: NOT SHOWN, strength does not grow with age")


def test_figures_of_the_fixed_programme_stand_before_those_of_the_choosing() -> None:
    advice = made_from(4, has_prices=True).told
    assert advice.spending is not None
    fixed, later = advice.spending.recommended.next_batch, advice.honest.next_batch
    assert fixed is not None
    assert later is not None
    text = dict(action_facts(advice))["Later pour"]
    assert text.startswith(f"read {100 * fixed.rms:.1f} % off (RMS; choosing held out {100 * later.rms:.1f} %")
    assert f"{round(100 * fixed.within_tolerance)} % within 10.0 %" in text
    own = advice.honest.own_batch
    assert own is not None
    assert dict(action_facts(advice))["Own batch"].startswith(
        f"read {100 * advice.spending.recommended.own_batch_rms:.1f} % off (RMS; choosing held out "
        f"{100 * own.nested_rms:.1f} %"
    )
    assert f"{advice.spending.recommended.own_batch_rms:.3f}" != f"{own.nested_rms:.3f}"
    # The verdict is that of the fixed programme, whatever the choosing held out says.
    for share, held_out, verdict in ((0.95, 0.5, "good enough"), (0.5, 0.95, "NOT GOOD ENOUGH")):
        programme = replace(advice.spending.recommended, next_batch=replace(fixed, within_tolerance=share))
        told = replace(
            advice,
            spending=replace(advice.spending, recommended=programme),
            honest=replace(advice.honest, next_batch=replace(later, within_tolerance=held_out)),
        )
        assert dict(action_facts(told))["Later pour"].endswith(f"90 % wanted: {verdict}")


def test_money_is_answered_on_the_first_screen() -> None:
    advice = made_from(4, has_prices=True).told
    assert advice.spending is not None
    assert advice.spending.helps
    assert len(advice.spending.sentences) > 1
    brief, full = (
        " ".join(on_terminal(advice, is_full=is_full).replace("\u00a0", " ").split()) for is_full in (False, True)
    )
    assert all(" ".join(sentence.split()) in brief for sentence in advice.spending.helps)
    assert all(" ".join(sentence.split()) in full for sentence in advice.spending.sentences)


def test_the_first_screen_is_a_screen() -> None:
    advice = made_from(4, has_prices=True).told
    assert action_section(advice).blocks
    stream = io.StringIO()
    print_recommendation(advice, Console(file=stream, width=80), is_full=False)
    first = stream.getvalue().split("Beside other schedules")[0].rstrip().splitlines()
    assert len(first) - 1 <= 20, "twenty lines below the title"
    assert max(len(line.rstrip()) for line in first) <= 80
