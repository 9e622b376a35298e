"""Ages in the wrong unit: told where nobody broke them and half the batches broke the same number in the other unit."""

from __future__ import annotations

import pytest

from planner.read.plan.doubts.age_doubts import age_doubts
from planner.terms.plan.settings import Budget, ChoiceLimits, Settings, Target
from tests.conversion.invented_pairs import CUBE, broken

FOUR = {"a": (24.0, 168.0), "b": (24.0, 168.0), "c": (24.0, 72.0), "d": (24.0, 72.0)}


def told(
    held: dict[str, tuple[float, ...]], ages_h: tuple[float, ...], targets: tuple[tuple[float, float | None], ...]
) -> list[str]:
    """What is told of a plan that offers these ages and asks for these targets, each with the strength it waits for."""
    settings = Settings(
        target=Target(
            ages_h=tuple(age for age, _ in targets), tolerance=0.1, strengths_mpa=tuple(mpa for _, mpa in targets)
        ),
        choices=ChoiceLimits(ages_h=ages_h, fewest_ages=1, most_ages=1, specimens_per_age=(1, 1)),
        budget=Budget(specimens=2),
    )
    breaks = [one for batch, ages in held.items() for age in ages for one in broken(batch, CUBE, age, 20.0, 21.0)]
    found = age_doubts("plan.toml", settings, breaks)
    assert {one.code for one in found} <= {"plan-value"}
    return [one.text for one in found]


def test_hours_for_days_and_days_for_hours() -> None:
    (text,) = told(FOUR, (7.0, 24.0), ((24.0, None),))
    assert text == (
        "plan.toml, choices.ages: nobody has broken 7 h, but 2 of 4 batches were broken at 7 d. Were days meant? "
        'Then write "7 d".'
    )
    (text,) = told({"a": (12.0, 24.0), "b": (12.0, 24.0)}, (24.0,), ((288.0, None),))
    assert text == (
        "plan.toml, target.ages: nobody has broken 12 d, but 2 of 2 batches were broken at 12 h. Were hours meant? "
        'Then write "12 h".'
    )


@pytest.mark.parametrize(
    ("held", "ages_h"),
    [
        ({**FOUR, "b": (24.0, 72.0)}, (7.0, 24.0)),  # one batch of four is no habit
        (FOUR, (7.0, 168.0)),  # both stand there, so neither is a slip
        ({**FOUR, "c": (7.0, 24.0)}, (7.0, 24.0)),  # somebody broke it
        ({**FOUR, "c": (7.1, 24.0)}, (7.0, 24.0)),  # at nearly that age
        (FOUR, (9.0, 24.0)),  # of no number that was broken
        ({}, (7.0, 24.0)),
    ],
)
def test_what_is_no_slip(held: dict[str, tuple[float, ...]], ages_h: tuple[float, ...]) -> None:
    assert told(held, ages_h, ((24.0, None),)) == []


def test_two_ages_of_a_batch_that_are_nearly_alike_count_it_once() -> None:
    held = {**FOUR, "a": (24.0, 167.0, 168.0), "b": (24.0, 166.0)}
    (text,) = told(held, (7.0, 24.0), ((24.0, None),))
    assert "2 of 4 batches were broken at 7 d" in text


def test_an_age_at_which_a_strength_is_awaited_is_no_asked_age() -> None:
    assert told(FOUR, (24.0,), ((7.0, 20.0), (24.0, None))) == []
