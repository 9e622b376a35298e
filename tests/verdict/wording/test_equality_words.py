"""How many specimens another schedule needs, in words: every figure by hand."""

from __future__ import annotations

import pytest

from planner.terms.results.choice_role import ChoiceRole
from planner.terms.schedule import Schedule
from planner.verdict.wording.rival_words import equality_words, rival_name

THEIRS = Schedule((24.0, 72.0), (3, 4))
OURS = Schedule((8.0, 24.0), (2, 3))
BESIDE = "The customary schedule errs 8.1 % with 7 specimens, the recommended one 4.2 % with 5"


def said(needed: Schedule | None, n_well_placed: int | None = None) -> str:
    return equality_words(rival_name(ChoiceRole.CUSTOMARY), (THEIRS, 0.081), (OURS, 0.042), needed, n_well_placed)


@pytest.mark.parametrize(
    ("needed", "end"),
    [
        (None, "no number of specimens at its ages makes up for that, the rest is where they are broken."),
        (THEIRS, "it errs no more as it stands."),
        (Schedule((24.0, 72.0), (9, 12)), "at its own ages it needs 21 to equal that."),
    ],
)
def test_each_schedule_has_its_own_error_and_count(needed: Schedule | None, end: str) -> None:
    assert said(needed) == f"{BESIDE}; {end}"


@pytest.mark.parametrize(("n_well_placed", "is_said"), [(6, True), (7, False), (None, False)])
def test_fewer_specimens_well_placed_are_named(n_well_placed: int | None, is_said: bool) -> None:
    text = said(None, n_well_placed)
    assert text.endswith("Well placed, 6 specimens err no more than it does.") == is_said
    assert ("Well placed" in text) == is_said


def test_a_schedule_of_the_plan_is_the_readers_own() -> None:
    assert rival_name(ChoiceRole.COMPARED) == "your schedule"
