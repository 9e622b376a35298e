"""Files of site checks that may be meant: taken, and every doubt told with the rows' values and the edit."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.after_casting.later_files import Row, checked, companions, curve, every, where

Spoil = Callable[[list[Row]], list[Row]]


def of(name: str, age_h: float | None = None) -> Callable[[Row], bool]:
    return lambda row: row["batch"] == name and age_h in (None, row["age_h"])


def times(factor: float) -> Callable[[Row], float]:
    return lambda row: round(factor * row["strength_mpa"], 3)


def alike(n_checks: int, n_each: int = 3) -> Spoil:
    """All companions of the first checks have one strength, of so many companions."""

    def change(rows: list[Row]) -> list[Row]:
        kept: list[Row] = []
        for start in range(0, len(rows), 3):
            cell = rows[start : start + n_each]
            is_one = start // 3 < n_checks
            kept += [row | {"strength_mpa": cell[0]["strength_mpa"]} if is_one else row for row in cell]
        return kept

    return change


def read_mpa(row: Row) -> float:
    return curve().read(row["maturity"])


def void_weak(*shares: float) -> Spoil:
    """One companion of the first pours at 6 h is void, at so much of the mean of the other two."""

    def change(rows: list[Row]) -> list[Row]:
        changed = [dict(row) for row in rows]
        for place, share in enumerate(shares):
            first, second, third = changed[6 * place : 6 * place + 3]
            third["strength_mpa"] = share * (first["strength_mpa"] + second["strength_mpa"]) / 2
            third["void"] = "cracked"
        return changed

    return change


def days(*times: str) -> Spoil:
    """Casting times of the first pours, the others as they are."""
    return lambda rows: [
        row | {"cast_at": times[int(row["batch"][1:]) - 1]} if int(row["batch"][1:]) <= len(times) else row
        for row in rows
    ]


# code: what is spoilt, parts of the words, and what is just sound
CASES: list[tuple[str, Spoil, tuple[str, ...], Spoil]] = [
    (
        "checks-off-by-a-factor",
        every(strength_mpa=times(1 / 6.895)),
        ("P1 0.15 times, P2 0.14 times", "strengths in ksi: multiply them by 6.895"),
        every(strength_mpa=times(1 / 1.3)),
    ),
    (
        "checks-off-by-a-factor",
        every(strength_mpa=times(0.444)),
        ("area of a 150 mm instead of a 100 mm specimen",),
        every(strength_mpa=times(1.0)),
    ),
    (
        "checks-off-by-a-factor",
        where(of("P3"), strength_mpa=times(2.25)),
        ("P3 2.2 times", "area of a 100 mm instead of a 150 mm"),
        every(strength_mpa=times(1.3)),
    ),
    (
        "checks-off-by-a-factor",
        where(of("P4"), strength_mpa=times(3.9)),
        ("P4 4.1 times", "a radius taken for a diameter"),
        where(of("P4"), strength_mpa=times(1.5)),
    ),
    (
        "checks-too-strong",
        where(of("P3"), strength_mpa=times(1.6)),
        ("P3 by 58 % (sound ones seldom by more than 56 %)", "hides a weak pour", "correct or void the rows"),
        where(of("P3"), strength_mpa=times(1.56)),
    ),
    (
        "checks-too-strong",
        every(strength_mpa=times(1.31)),
        ("all 4 pours together by 32 % (sound ones seldom by more than 31 %)",),
        every(strength_mpa=times(1.29)),
    ),
    (
        "check-apart",
        where(of("P2", 6), strength_mpa=times(1.4)),
        ("P2 at 6 h broke at", "40 % more than its pour's other checks let one expect"),
        where(of("P2", 6), strength_mpa=times(1.2)),
    ),
    (
        "check-apart",
        where(of("P2", 24), strength_mpa=times(0.7)),
        ("P2 at", "temperature record of these companions are their own"),
        where(of("P2", 24), strength_mpa=times(0.85)),
    ),
    (
        "companions-equal",
        alike(2),
        ("of 2 checks have one strength: P1 at 6 h 3 times", "(row 2), P1 at 1 d 3 times", "the mean once"),
        alike(1),
    ),
    ("companions-equal", alike(4, 2), ("of 4 checks",), alike(3, 2)),
    (
        "required-unlike",
        every(required_mpa=lambda row: 0.199 * read_mpa(row)),
        ("P1 at 6 h 0.694 MPa", "the curve reads 3.5 MPa", "slipped decimal point"),
        every(required_mpa=lambda row: 0.201 * read_mpa(row)),
    ),
    (
        "required-unlike",
        where(of("P2", 24), required_mpa=lambda row: 2.51 * read_mpa(row)),
        ("P2 at 1 d 61.8 MPa",),
        where(of("P2", 24), required_mpa=lambda row: 2.49 * read_mpa(row)),
    ),
    (
        "required-unlike",
        where(of("P2", 6), required_mpa=12.1),
        ("P2 at 1 d 12 MPa after 12.1 MPa at 6 h",),
        lambda rows: rows,
    ),
    (
        "cast-far-apart",
        days("2026-03-30 21:00"),
        ("P2 1.0 years after P1", "Correct the year"),
        days("2026-04-02 22:00"),
    ),
    (
        "cast-at-once",
        days(*("2027-04-01 22:00",) * 3),
        ("3 pours have one casting time (P1, P2, P3)", "rows must be in order of casting"),
        days(*("2027-04-01 22:00",) * 2),
    ),
    (
        "voids-are-weak",
        void_weak(0.89, 0.89),
        ("P1 at 6 h 3.1", "11 % below (row 4: cracked)", "P2 at 6 h"),
        void_weak(0.89, 0.91),
    ),
    ("voids-are-weak", void_weak(0.5, 0.5), ("50 % below",), void_weak(0.5)),
    ("pour-among-records", where(of("P2"), batch="R2"), ("R2 is an earlier batch",), where(of("P2"), batch="R22")),
    ("pour-among-records", where(of("P2"), batch="T1"), ("T1 is an earlier batch",), where(of("P2"), batch="T2")),
]


@pytest.mark.parametrize("case", CASES, ids=[f"{case[0]}-{place}" for place, case in enumerate(CASES)])
def test_a_doubt_is_told_with_its_values_and_a_sound_file_is_not_doubted(
    tmp_path: Path, case: tuple[str, Spoil, tuple[str, ...], Spoil]
) -> None:
    code, spoil, parts, sound = case
    texts = [caution.text for caution in checked(tmp_path, spoil(companions())).cautions if caution.code == code]
    assert len(texts) == 1
    for part in parts:
        assert part in texts[0]
    if code not in ("pour-among-records",):
        assert texts[0].startswith("checks.csv: ")
    assert code not in {caution.code for caution in checked(tmp_path, sound(companions())).cautions}


def test_a_pour_off_by_a_factor_is_not_told_as_strong_too(tmp_path: Path) -> None:
    codes = {
        caution.code for caution in checked(tmp_path, where(of("P3"), strength_mpa=times(2.25))(companions())).cautions
    }
    assert "checks-off-by-a-factor" in codes
    assert not codes & {"checks-too-strong", "check-apart"}


def test_more_than_four_are_counted(tmp_path: Path) -> None:
    answer = checked(tmp_path, every(required_mpa=0.01)(companions(6)))
    (text,) = [caution.text for caution in answer.cautions if caution.code == "required-unlike"]
    assert text.count("the curve reads") == 5  # four of them, and once in the sentence
    assert " and 8 more." in text
