"""Files after casting that cannot be meant: refused with file, row, value and the edit."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from planner.terms.maturity import MaturitySetting
from planner.terms.problems import InputError
from tests.after_casting.later_files import (
    Row,
    checked,
    companions,
    curve,
    early_breaks,
    every,
    read,
    where,
)

Spoil = Callable[[list[Row]], list[Row]]


def of_pour(name: str) -> Callable[[Row], bool]:
    return lambda row: row["batch"] == name


def at(age_h: float) -> Callable[[Row], bool]:
    return lambda row: row["age_h"] == age_h


# row 1 is the header; a pour has six rows, three at 6 h and three at 1 d
OF_CHECKS: dict[str, tuple[Spoil, tuple[str, ...]]] = {
    "another mix": (
        every(mix="slow mix"),
        ('row 2, column mix: "P1" is of the mix "slow mix", the curve is for "rapid panel mix"', "rows 3, 4, 5"),
    ),
    "one pour of another mix": (
        where(of_pour("P2"), mix="slow mix"),
        ('row 8, column mix: "P2" is of the mix "slow mix"', "the same in rows 9, 10, 11, 12, 13."),
    ),
    "half a pour of another mix": (
        where(lambda row: row["batch"] == "P2" and row["age_h"] == 24, mix="slow mix"),
        ('row 11, column mix: Batch "P2" is of mix "slow mix" here and "rapid panel mix" in row 8.',),
    ),
    "cubes beside a curve of cylinders": (
        every(geometry="cube 150 mm"),
        ("row 2, column geometry: The specimens are cube 150 mm, those of the curve cylinder 100x200 mm",),
    ),
    "one pour of cubes": (
        where(of_pour("P3"), geometry="cube 150 mm"),
        ("row 14, column geometry: The specimens are cube 150 mm", "break the geometry of the curve, or correct it"),
    ),
    "ages in days under hours": (
        every(age_h=lambda row: row["age_h"] / 24),
        ("row 2: The break is at 0.25 h, before the final set of the plan (1.5 h)", "6 h if it was meant in days"),
    ),
    "maturities in minutes": (
        every(maturity=lambda row: 60 * row["maturity"]),
        ("row 2, column maturity: The maturity is 330 at 6 h", "averaged 110 C", "whether it is in minutes or days"),
    ),
    "maturities in days": (
        every(maturity=lambda row: row["maturity"] / 24),
        ("row 2, column maturity: The maturity is 0.229167 at 6 h", "averaged -27 C"),
    ),
    "maturities in C h under equivalent ages": (
        every(maturity=lambda row: 28 * row["age_h"]),
        ("row 2, column maturity: The maturity is 168 at 6 h", "averaged 91 C", "equivalent age, Q 5000 K"),
    ),
    "maturities of two ages exchanged": (
        every(maturity=lambda row: {6: 23.3, 24: 5.5}[row["age_h"]]),
        ('row 5: "P1" has no more maturity at 1 d (5.5 h', "than at 6 h (23.3, row 2)"),
    ),
    "one maturity for all": (
        every(maturity=20.0),
        ('row 5: "P1" has no more maturity at 1 d (20 h at the reference temperature) than at 6 h (20, row 2)',),
    ),
    "maturity before the curve begins": (
        where(at(6), maturity=3.9),
        ('row 2: "P1" broke at ', "its maturity is 3.9 h", "the curve reads no strength yet (it begins at 5 h)"),
    ),
    "negative required strength": (
        every(required_mpa=-2),
        ("row 2, column required_mpa: The required strength is -2",),
    ),
    "negative age": (where(at(24), age_h=-24), ("row 5, column age_h: The age is -24",)),
    "all cured as standard": (every(curing="standard"), ("There are no site-cured breaks",)),
    "all cured in heat": (every(curing="heat"), ("There are no site-cured breaks",)),
    "cast in 1927": (every(cast_at="1927-04-01 22:00"), ("row 2, column cast_at: Given 1927", "Correct the year")),
    "a status of void": (
        every(status=lambda row: "VOID" if row["batch"] == "P2" else ""),
        ('row 8, column status: "VOID" under "status" looks like a break that must not be used',),
    ),
    "a pour under another case": (
        lambda rows: [*rows, *(row | {"batch": "p1"} for row in rows if row["batch"] == "P1")],
        ('"p1" and "P1" (row 2) differ only in spaces or capitals',),
    ),
    "a pour pasted under another name": (
        lambda rows: [*rows, *(row | {"batch": "P9"} for row in rows if row["batch"] == "P1")],
        ('All 6 breaks of batch "P9" (rows 26, 27, 28, 29 and 2 more) are those of batch "P1"',),
    ),
    "strengths in psi": (
        every(strength_mpa=lambda row: 145 * row["strength_mpa"]),
        ("stronger than any concrete", "row 2, column strength_mpa"),
    ),
}
OF_POURS: dict[str, tuple[Spoil, tuple[str, ...]]] = {
    "another mix": (every(mix="slow mix"), ('row 2, column mix: "P1" is of the mix "slow mix"',)),
    "half of another mix": (where(at(8), mix="slow mix"), ('row 4, column mix: Batch "P1" is of mix "slow mix" here',)),
    "cubes": (every(geometry="cube 100 mm"), ("row 2, column geometry: The specimens are cube 100 mm",)),
    "maturities exchanged": (
        every(maturity=lambda row: 13.5 - row["maturity"]),
        ('row 4: "P1" has no more maturity at 8 h (5.1 h',),
    ),
    "one maturity for both": (every(maturity=5.1), ('row 4: "P1" has no more maturity at 8 h (5.1 h',)),
    "maturities in minutes": (
        every(maturity=lambda row: 60 * row["maturity"]),
        ("row 2, column maturity: The maturity is 306 at 4 h", "the same in rows 3, 4."),
    ),
    "two pours": (where(at(8), batch="P2"), ("There are 2 batches (P1, P2)",)),
    "all void": (every(void="cracked"), ("Every row is void",)),
}


def told(tried: Callable[..., Any], folder: Path, rows: list[Row]) -> str:
    with pytest.raises(InputError) as caught:
        tried(folder, rows)
    return "\n".join(str(problem) for problem in caught.value.problems)


@pytest.mark.parametrize("name", OF_CHECKS)
def test_wrong_site_checks_are_refused(tmp_path: Path, name: str) -> None:
    spoil, parts = OF_CHECKS[name]
    text = told(checked, tmp_path, spoil(companions()))
    assert "checks.csv" in text
    for part in parts:
        assert part in text


@pytest.mark.parametrize("name", OF_POURS)
def test_wrong_early_breaks_are_refused(tmp_path: Path, name: str) -> None:
    spoil, parts = OF_POURS[name]
    text = told(read, tmp_path, spoil(early_breaks()))
    assert "pour.csv" in text
    for part in parts:
        assert part in text


def test_sound_files_are_taken(tmp_path: Path) -> None:
    assert {caution.code for caution in checked(tmp_path, companions()).cautions} == set()
    sound = {"no-temperature-of-pour", "no-independent-check"}
    assert {caution.code for caution in read(tmp_path, early_breaks()).cautions} == sound


@pytest.mark.parametrize(("mean_c", "is_refused"), [(-10.1, True), (-9.9, False), (79.9, False), (80.1, True)])
def test_concrete_averages_between_ten_below_nought_and_eighty(tmp_path: Path, mean_c: float, is_refused: bool) -> None:
    """Temperatures outside are another unit; by Arrhenius with Q 5000 K, worked out here."""
    hours = 24 * 2.718281828459045 ** (-5000 * (1 / (mean_c + 273.15) - 1 / 293.15))
    rows = where(at(24), maturity=hours)(companions(1))
    rows = [row for row in rows if row["age_h"] == 24]
    try:
        checked(tmp_path, rows)
        text = ""
    except InputError as error:  # so cold that the curve reads nothing yet, or another unit
        text = str(error)
    assert (f"averaged {mean_c:.0f} C" in text) is is_refused


def test_frozen_concrete_may_gain_no_maturity_between_two_ages(tmp_path: Path) -> None:
    """A datum of 0 C: at -2 C nothing is gained, which a record may say and a column of maturities may not."""
    clock = MaturitySetting("temperature-time", 0.0, 20.0)
    rows = [row | {"maturity": "", "age_h": {6: 20}.get(row["age_h"], 24)} for row in companions(1)]
    record = [
        {"batch": "P1", "curing": "site", "elapsed_h": hour, "temperature_c": 15.0 if hour <= 19 else -2.0}
        for hour in range(27)
    ]
    assert len(checked(tmp_path, rows, record, maturity=clock).verdict.points) == 2
    alike = [row | {"maturity": 300.0} for row in rows]
    with pytest.raises(InputError, match="has no more maturity at 1 d"):
        checked(tmp_path, alike, maturity=clock)
    assert curve().maturity != clock
