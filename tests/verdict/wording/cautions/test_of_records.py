"""Cautions about the records: when each is given, when not, and at its limit."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pytest

from planner.verdict.wording.cautions.record_cautions import _growth
from tests.verdict.wording.cautions.circumstances import (
    CYLINDER,
    IN_THE_ROOM,
    ON_SITE,
    Case,
    Changed,
    Figures,
    about,
    broken,
    codes,
    every,
    given_past_its_limit,
    says,
)

CASES: list[Case] = [
    ("few-batches", {"cells__n_units": 8}, {"cells__n_units": 9}),
    (
        "checked-in-the-curing-room",
        {"cells__checked_against": "mixed", "cells__checks__condition": (IN_THE_ROOM, *(ON_SITE,) * 3)},
        {"cells__checked_against": "site-cured"},
    ),
    ("mix-not-in-records", {"settings__mix_name": "other"}, {"settings__mix_name": "Mix "}),
    (
        "mixes-pooled",
        {"records__breaks": (*broken(), *broken("B2", "second"))},
        {
            "records__breaks": (*broken(), *broken("B2", "second")),
            "settings__prior": SimpleNamespace(hold_out="mix", standard_curing_c=20.0, geometry=None),
        },
    ),
    ("scatter-beyond-precision", {"cells__cv": np.full(4, 0.0481)}, {"cells__cv": np.full(4, 0.048)}),
    (
        "strengths-all-equal",
        {"cells__scatter": SimpleNamespace(pooled_cv=0.0, n_degrees=np.array([3.0]))},
        {"cells__scatter": SimpleNamespace(pooled_cv=0.001, n_degrees=np.array([3.0]))},
    ),
    (
        "strength-does-not-grow",
        {"records__breaks": (*broken(), *broken("B2", strengths=(20.0, 20.0, 20.0, 20.4)))},
        {"records__breaks": (*broken(), *broken("B2", strengths=(20.0, 20.0, 20.0, 20.5)))},
    ),
    ("early-age-without-record", {"batches": ("B1", "B2")}, {"batches": ("B1",)}),
]
FIGURES: list[Figures] = [
    ("few-batches", {"cells__n_units": 1}, ("one batch: no error can be held out", "Break a second one")),
    ("few-batches", {"cells__n_units": 2}, ("rests on 2 batches: bounds are wide",)),
    (
        "checked-in-the-curing-room",
        {
            "cells__checked_against": "mixed",
            "cells__checks__condition": (IN_THE_ROOM, IN_THE_ROOM, ON_SITE, ON_SITE),
        },
        ("The truth at 12 h was standard-cured specimens",),
    ),
]


@pytest.mark.parametrize(("code", "past", "at"), CASES, ids=[case[0] for case in CASES])
def test_given_past_its_limit_and_not_at_it(code: str, past: Changed, at: Changed) -> None:
    given_past_its_limit(code, past, at)


@pytest.mark.parametrize(("code", "changed", "said"), FIGURES, ids=[case[0] for case in FIGURES])
def test_figures_in_the_words(code: str, changed: Changed, said: tuple[str, ...]) -> None:
    says(code, changed, said)


@pytest.mark.parametrize(
    ("geometry", "cv", "n_told"),
    [
        ("cube 150 mm", 0.047, 0),  # EN 12390-3, 3.2 % times 1.5 (memory)
        ("cube 150 mm", 0.049, 4),
        ("cube 50 mm", 0.2, 0),  # no statement known
        (CYLINDER, 0.2, 2),  # ASTM C39 speaks of 17 to 32 MPa (memory): 1 d and 7 d of four ages
        ("cylinder 150x300 mm", 0.2, 3),  # ... of 12 to 55 MPa
        ("cylinder 75x150 mm", 0.2, 0),
    ],
)
def test_replicates_are_held_to_the_statement_on_their_own_geometry_and_strength(
    geometry: str, cv: float, n_told: int
) -> None:
    records = (*broken(geometry=geometry), *broken("B2", geometry=geometry))
    found = [
        item.text
        for item in every(about(cells__cv=np.full(4, cv), records__breaks=records))
        if item.code == "scatter-beyond-precision"
    ]
    assert len(found) == (n_told > 0)
    assert sum(len(re.findall(r"\b(?:6 h|1 d|7 d|28 d)\b", text)) for text in found) == n_told
    assert all(f"{100 * cv:.1f} %" in text for text in found)
    assert all(("EN 12390-3" if "cube" in geometry else "ASTM C39") in text for text in found)


def test_drawn_batches_give_no_word_on_the_curing_room() -> None:
    changed = {"cells__checked_against": "drawn", "basis__is_drawn": True, "batches": tuple(f"B{n}" for n in range(9))}
    assert "checked-in-the-curing-room" not in codes(every(about(**changed)))


@pytest.mark.parametrize(
    ("last_h", "last_mpa", "is_told"),
    [(48.0, 10.2, True), (48.0, 10.3, False), (47.0, 10.0, False), (72.0, 9.0, True)],
)
def test_strength_that_does_not_grow_to_twice_the_age(last_h: float, last_mpa: float, is_told: bool) -> None:
    def item(age_h: float, strength_mpa: float, curing: str = "standard") -> SimpleNamespace:
        return SimpleNamespace(curing=curing, batch="B1", age_h=age_h, strength_mpa=strength_mpa)

    breaks = [item(24.0, 9.0), item(24.0, 11.0), item(last_h, last_mpa), item(96.0, 40.0, "site")]
    found = list(_growth(SimpleNamespace(records=SimpleNamespace(breaks=breaks))))  # type: ignore[arg-type]
    assert [caution.code for caution in found] == ["strength-does-not-grow"] * is_told
    assert not is_told or f"B1 (10.0 MPa at 1 d, {last_mpa:.1f} MPa at" in found[0].text


def test_one_scatter_of_all_ages_is_told_once() -> None:
    pooled, by_age = (
        next(item.text for item in every(about(cells__cv=cv)) if item.code == "scatter-beyond-precision")
        for cv in (np.full(4, 0.06), np.array([0.06, 0.07, 0.08, 0.09]))
    )
    assert "3.2 %: 1 d, 7 d, each 6.0 %. That" in pooled  # ASTM C39 speaks of 17 to 32 MPa
    assert "3.2 %: 1 d 7.0 %, 7 d 8.0 %. That" in by_age


@pytest.mark.parametrize(
    ("batches", "counted"), [(("B1", "B2"), "of 1 batch have"), (("B1", "B2", "B3"), "of 2 batches have")]
)
def test_heat_of_its_own_that_nobody_saw(batches: tuple[str, ...], counted: str) -> None:
    # exp(5000 (1/293.15 - 1/295.15)) = 1.123 and 1.331 for 5 K (Q 5000 K from memory, derived)
    says(
        "early-age-without-record",
        {"batches": batches},
        ("(6 h, 1 d)", counted, "2 K are 12 % and 5 K 33 % of maturity"),
    )
