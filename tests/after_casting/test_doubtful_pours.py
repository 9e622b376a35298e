"""Early breaks and maturities that may be meant: taken, and every doubt told with its values and the edit."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from planner.issued_curve.calibration.pour_reader import PourReader
from planner.mixed_model import CellMeans, judge_level
from planner.read import load_plan
from tests.after_casting.later_files import Row, checked, companions, curve, early_breaks, every, read, where, without
from tests.after_casting.test_read_pour import Dense
from tests.issued_curve.invented_curves import pour_model
from tests.issued_curve.trial_files import PLAN

Spoil = Callable[[list[Row]], list[Row]]


def at(age_h: float) -> Callable[[Row], bool]:
    return lambda row: row["age_h"] == age_h


def one_of(specimen: str) -> Callable[[Row], bool]:
    return lambda row: row["specimen"] == specimen


def of_record(batch: str, *strengths: str) -> Spoil:
    """The breaks of an earlier batch at 4 and 8 h in the rows of the pour, or these strengths instead."""
    records = [item for item in load_plan(PLAN).records.breaks if item.batch == batch and item.age_h in (4.0, 8.0)]
    found = [item.strength_mpa for item in records if item.curing == "standard"]
    given = [*found[:2], found[3]]

    def change(rows: list[Row]) -> list[Row]:
        values = strengths or given
        return [row | {"strength_mpa": value} for row, value in zip(rows, values, strict=True)]

    return change


def kept_at(temperature_c: float) -> Callable[[Row], float]:
    """Maturity of a constant temperature by Arrhenius with 5000 K, worked out here."""
    return lambda row: row["age_h"] * exp(-5000 * (1 / (temperature_c + 273.15) - 1 / 293.15))


# code, whether of a pour or of site checks, what is spoilt, parts of the words, what is just sound
CASES: list[tuple[str, str, Spoil, tuple[str, ...], Spoil]] = [
    (
        "geometry-assumed",
        "checks",
        without("geometry"),
        ("checks.csv does not say the geometry of 24 breaks: taken as cylinder 100x200 mm", "add the column geometry"),
        lambda rows: rows,
    ),
    (
        "geometry-assumed",
        "pour",
        without("geometry"),
        ("pour.csv does not say the geometry of 3 breaks",),
        lambda rows: rows,
    ),
    (
        "maturity-is-age",
        "checks",
        every(maturity=lambda row: 1.0019 * row["age_h"]),
        ("that of concrete kept at 20 C", "like 6.011 at 6 h (row 2)", "--temperatures"),
        every(maturity=lambda row: 1.0021 * row["age_h"]),
    ),
    (
        "maturity-is-age",
        "checks",
        every(maturity=lambda row: row["age_h"]),
        ("kept at 20 C",),
        where(one_of("P3-24-1"), maturity=23.0),
    ),
    (
        "maturity-uneven",
        "checks",
        where(one_of("P1-6-0"), maturity=5.5 * 1.21),
        ("P1 site at 6 h 5.5 to 6.655 (from row 2)", "more than 20 % apart"),
        where(one_of("P1-6-0"), maturity=5.5 * 1.2),
    ),
    (
        "maturity-uneven",
        "pour",
        where(one_of("P1-0"), maturity=6.2),
        ("P1 standard at 4 h 5.1 to 6.2",),
        where(one_of("P1-0"), maturity=6.1),
    ),
    (
        "maturity-outside-temperatures",  # the curve holds from 12 to 30 C, 1 K is let off
        "checks",
        where(at(24), maturity=kept_at(10.9)),
        ("outside the 12 to 30 C", "P1 at 1 d 13.9, as at", "as at 11 C (row 5)"),
        where(at(24), maturity=kept_at(11.1)),
    ),
    (
        "maturity-outside-temperatures",
        "checks",
        where(at(24), maturity=kept_at(31.1)),
        ("as at 31 C (row 5)",),
        where(at(24), maturity=kept_at(30.9)),
    ),
    (
        "given-among-records",
        "pour",
        of_record("R2"),
        ("all 3 breaks of P1 (from row 2) are those of the earlier batch R2",),
        of_record("R2", "20.01", "21.02", "30.03"),
    ),
    (
        "early-age-not-planned",  # [pours] early_ages of the plan: 4 h and 8 h
        "pour",
        where(at(8), age_h=9),
        ("pour.csv has early breaks at 9 h, the plan ([pours] early_ages) 4 h, 8 h",),
        where(at(8), age_h=8),
    ),
    (
        "several-castings",
        "pour",
        lambda rows: [row | {"cast_at": f"2027-04-0{min(place, 1) + 1} 22:00"} for place, row in enumerate(rows)],
        ("the breaks of P1 have 2 casting times (rows 2 and 3)",),
        every(cast_at="2027-04-01 22:00"),
    ),
    (
        "required-not-judged",
        "pour",
        every(required_mpa=14.0),
        ("pour.csv has required strengths (14 MPa)",),
        every(required_mpa=""),
    ),
    (
        "pour-is-trial",  # the trial batch of the model: 11.2 MPa at 5.2 h
        "pour",
        where(at(4), strength_mpa=11.2, maturity=5.2),
        ("strength and maturity at 4 h are those of a trial batch",),
        where(at(4), strength_mpa=11.2, maturity=5.21),
    ),
    (
        "pour-is-trial",
        "pour",
        where(at(4), strength_mpa=11.2, maturity=5.2),
        ("Give the breaks of the pour",),
        where(at(4), strength_mpa=11.21, maturity=5.2),
    ),
    (
        "pour-too-strong",
        "pour",
        every(strength_mpa=lambda row: 1.6 * row["strength_mpa"]),
        (
            "the early breaks are 45 % stronger",
            "sound pours pass 42 % once in a hundred times",
            "correct or void the rows",
        ),
        every(strength_mpa=lambda row: 1.5 * row["strength_mpa"]),
    ),
]


@pytest.mark.parametrize("case", CASES, ids=[f"{case[0]}-{place}" for place, case in enumerate(CASES)])
def test_a_doubt_is_told_with_its_values_and_a_sound_file_is_not_doubted(
    tmp_path: Path, case: tuple[str, str, Spoil, tuple[str, ...], Spoil]
) -> None:
    code, kind, spoil, parts, sound = case
    tried: Callable[..., Any] = checked if kind == "checks" else read
    rows = companions() if kind == "checks" else early_breaks()
    texts = [caution.text for caution in tried(tmp_path, spoil(rows)).cautions if caution.code == code]
    assert len(texts) == 1
    for part in parts:
        assert part in texts[0]
    assert code not in {caution.code for caution in tried(tmp_path, sound(rows)).cautions}


def test_three_equal_breaks_of_an_earlier_batch_are_a_copy_and_two_are_chance(tmp_path: Path) -> None:
    rows = of_record("R2")(early_breaks())[:2]
    assert "given-among-records" not in {caution.code for caution in read(tmp_path, rows).cautions}


def test_the_level_is_that_of_a_dense_normal_law() -> None:
    """One and two means against the same law by brute force, and Student's 99 % point with 8 degrees of freedom."""
    model = pour_model(reading="records")
    reader, dense = PourReader.of(model), Dense(model)
    for maturities, counts in (((5.1,), (2.0,)), ((5.1, 8.4), (2.0, 1.0))):
        law = np.log(np.array(maturities))
        rows = np.stack([np.ones(len(law)), dense.mean(law, 1)], axis=1)
        covariance = (1 + 1 / 9) * rows @ np.diag([0.07**2, 0.11**2]) @ rows.T
        noise = np.interp(law, dense.at, dense.cv) ** 2 / np.array(counts)
        covariance += np.diag(noise + 0.02**2 + np.interp(law, dense.at, dense.noise))
        weights = np.linalg.solve(covariance, np.ones(len(law)))
        limit = stats.t(8).ppf(0.99) / sqrt(weights.sum())
        for factor, is_strong in ((0.999, False), (1.001, True)):
            means = np.exp(dense.mean(law) + factor * limit)
            early = CellMeans(maturity_h=np.array(maturities), mean_mpa=means, n_specimens=np.array(counts))
            found = judge_level(reader.prior, reader.about, early)
            assert found.is_strong is is_strong
            assert log(1 + found.limit) == pytest.approx(limit, rel=1e-6)
            assert log(1 + found.excess) == pytest.approx(factor * limit, rel=1e-6)


def test_a_stranger_is_not_told_as_strong_too(tmp_path: Path) -> None:
    answer = read(tmp_path, every(strength_mpa=lambda row: 3 * row["strength_mpa"])(early_breaks()))
    assert answer.is_stranger
    assert "pour-too-strong" not in {caution.code for caution in answer.cautions}
    assert curve().pour_model is not None
