"""Ages of the best schedules on a logarithmic line: dot size by specimens, the error at the row's end."""

from __future__ import annotations

import math

from planner.report.accounts.parts.comparison import merged_choices, role_words, shown_choices
from planner.report.figures.drawing.plot import Line, Marks, Note, Plot, Tone
from planner.report.figures.drawing.ticks import age_axis, row_axis
from planner.report.text import words
from planner.report.text.usual_strength import usual_mpa
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation

ROW_PX = 34.0
BESIDE_PX, ABOVE_PX, BELOW_PX = 6.0, 9.0, -17.0  # of a strength from its dot
LONGEST_NAME = 32
TEXT_PX = 7.4  # average width of a character on the axis


def schedules_plot(advice: Recommendation) -> Plot:
    """A row for each compared schedule."""
    rows = merged_choices(shown_choices(advice))
    ages = [age for _, choice in rows for age in choice.schedule.ages_h]
    across = age_axis([*ages, *advice.candidate_ages_h, *advice.target_ages_h])
    up = row_axis(words.clean(role_words(roles), limit=LONGEST_NAME) for roles, _ in rows)
    layers: list[Line | Marks | Note] = []
    for age in advice.target_ages_h:
        layers.append(Line(points=((age, up.low), (age, up.high)), tone="second", is_dashed=True))
        layers.append(Note(at=(age, up.high), text="target", anchor="middle", shift_px=(0.0, 4.0)))
    expected = _expected(advice)
    layers += _strengths([(age, mpa) for age, mpa, _ in expected], height=float(len(rows) - 1))
    for place, (_, choice) in enumerate(rows):
        layers += _row(choice, height=float(len(rows) - 1 - place), high=across.high, is_first=place == 0)
    described = "; ".join(
        f"{role_words(roles)}: {schedule_label(choice.schedule)}, error {words.share(choice.error.rms)}"
        for roles, choice in rows
    )
    return Plot(
        name="schedules",
        title="Ages of the compared schedules",
        description=f"{words.clean(described)}.{_expected_words(expected)}",
        caption=f"Larger dots are more specimens. At the end of each row: RMS error on {words.judges_words(advice)}."
        f"{_expected_words(expected)}",
        across=across,
        up=up,
        layers=tuple(layers),
        height_px=90.0 + ROW_PX * len(rows),
        left_px=16.0 + TEXT_PX * max(len(name) for _, name in up.ticks),
        right_px=76.0,
    )


def _expected(advice: Recommendation) -> list[tuple[float, float, bool]]:
    """Every break of the recommended schedule with the strength expected there, and whether it is a drawn one.

    Breaks tell it where there are any, else the batches that were drawn.
    """
    drawn = {role.age_h: role.drawn_mpa for role in advice.ages}
    found = []
    for age in advice.recommended.schedule.ages_h:
        usual = usual_mpa(advice.growth, age_h=age)
        mpa = drawn.get(age) if usual is None else usual
        if mpa is not None:
            found.append((age, mpa, usual is None))
    return found


def _strengths(expected: list[tuple[float, float]], *, height: float) -> list[Note]:
    """At every break of the recommended row the strength usual there, above and below the line in turn."""
    return [
        Note(
            at=(age, height),
            text=f"{mpa:.0f} MPa",
            anchor="start" if place % 2 == 0 else "middle",  # those above clear of the axis and of each other
            shift_px=(-BESIDE_PX, ABOVE_PX) if place % 2 == 0 else (0.0, BELOW_PX),
        )
        for place, (age, mpa) in enumerate(expected)
    ]


def _expected_words(expected: list[tuple[float, float, bool]]) -> str:
    if not expected:
        return ""
    strengths = ", ".join(f"{age_label(age)} {mpa:.0f} MPa" for age, mpa, _ in expected)
    drawn = words.ages_words(tuple(age for age, _, is_drawn in expected if is_drawn))
    unbroken = f"; nobody has broken {drawn}: drawn strengths, no evidence" if drawn else ""
    return f" Expected at the recommended breaks: {strengths}{unbroken}."


def _row(choice: RatedChoice, *, height: float, high: float, is_first: bool) -> list[Line | Marks | Note]:
    schedule = choice.schedule
    points = tuple((age, height) for age in schedule.ages_h)
    tone: Tone = "main" if is_first else "quiet"
    return [
        Line(points=points, tone=tone),
        Marks(
            points=points,
            radius_px=tuple(3.0 * math.sqrt(count) for count in schedule.specimens),
            tone=tone,
            hints=tuple(f"{choice.label}: {text}" for text in schedule_label(schedule).split(", ")),
        ),
        Note(
            at=(high, height),
            text=words.share(choice.error.rms),
            is_strong=is_first,
            shift_px=(8.0, -4.0),
        ),
    ]
