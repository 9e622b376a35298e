"""Which cautions stand first, and how many of them on a first screen."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planner.terms.problems import Caution
from planner.verdict.wording.cautions.caution_ranks import CONCERNS, Concern, concern_of, n_leading, ranked
from planner.verdict.wording.cautions.cautions import STANDING, cautions
from tests.verdict.wording.cautions.circumstances import about, codes, every


def test_the_gravest_stand_first_each_once() -> None:
    notes, release = Caution("outlying-break", "n"), Caution("no-safe-reading", "r")
    decision, accuracy = Caution("over-prediction", "d"), Caution("few-batches", "a")
    assert ranked([notes, accuracy, decision, release, accuracy]) == (release, decision, accuracy, notes)
    assert concern_of("never heard of") is Concern.NOTE


@pytest.mark.parametrize(
    ("counts", "leading"),
    [
        ({Concern.RELEASE: 0, Concern.DECISION: 0, Concern.ACCURACY: 0, Concern.NOTE: 7}, 0),
        ({Concern.RELEASE: 1, Concern.DECISION: 1, Concern.ACCURACY: 0, Concern.NOTE: 7}, 2),
        ({Concern.RELEASE: 1, Concern.DECISION: 2, Concern.ACCURACY: 9, Concern.NOTE: 7}, 4),
        ({Concern.RELEASE: 4, Concern.DECISION: 2, Concern.ACCURACY: 0, Concern.NOTE: 0}, 4),
    ],
)
def test_four_lead_and_every_one_on_release(counts: dict[Concern, int], leading: int) -> None:
    by_concern: Callable[[Concern], list[str]] = lambda wanted: [c for c, own in CONCERNS.items() if own is wanted]  # noqa: E731
    by_concern_notes = [f"note-{n}" for n in range(9)]
    made = [
        Caution(code, "")
        for concern, n in counts.items()
        for code in (by_concern_notes if concern is Concern.NOTE else by_concern(concern))[:n]
    ]
    assert len(made) == sum(counts.values())
    assert n_leading(made) == leading


def test_more_than_four_on_release_all_lead() -> None:
    release = [code for code, concern in CONCERNS.items() if concern is Concern.RELEASE]
    made = [Caution(code, "") for code in release] + [Caution(f"x{n}", "") for n in range(3)]
    assert n_leading(made) == len(release)
    assert n_leading([*made, *(Caution("no-safe-reading", str(n)) for n in range(5))]) == len(release) + 5


def test_what_always_holds_names_the_place_of_sensors_and_who_decides() -> None:
    text = " ".join(STANDING)
    for part in (
        "coldest, thinnest and placed last, two or more",
        "responsible engineer decide",
        "not a permission to",
        "another test",
    ):
        assert part in text


def test_all_sources_are_gathered_and_ranked() -> None:
    made = about(
        honest__safe_reading_factor=None,
        basis__cautions=(Caution("untested-ages", "b"),),
        cells__cautions=(Caution("age-not-in-records", "c"),),
        records__cautions=(Caution("outlying-break", "r"),),
        cells__n_units=8,
    )
    assert codes(cautions(made)) == [
        "no-safe-reading",
        "untested-ages",
        "few-batches",
        "age-not-in-records",
        "outlying-break",
    ]


def test_nothing_to_be_said_of_sound_circumstances() -> None:
    assert every(about()) == []
