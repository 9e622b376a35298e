"""Messages about US tables name figures as the table gives them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.read.invented_study import Rows, csv_bytes, write_study
from tests.read.slips.test_wrong_files import CURED, study, temperatures, told


def strengths(heading: str, factor: float, row: int, value: object) -> Rows:
    rows = study()
    rows[0][4] = heading
    for one in rows[1:]:
        one[4] = round(one[4] * factor, 3)
    rows[row - 1][4] = value
    return rows


@pytest.mark.parametrize(
    ("heading", "factor", "value", "said"),
    [
        ("strength_psi", 145.0377, 72500, "The strength is 72,500 psi, stronger"),
        ("strength_ksi", 0.1450377, 72.5, "The strength is 72.5 ksi, stronger"),
        ("strength_mpa", 1.0, 500, "The strength is 500 MPa, stronger"),
    ],
)
def test_a_strength_is_repeated_as_it_was_given(
    tmp_path: Path, heading: str, factor: float, value: float, said: str
) -> None:
    assert said in told(write_study(tmp_path, breaks=csv_bytes(strengths(heading, factor, 5, value))))


def test_a_table_that_is_too_weak_is_told_in_its_unit(tmp_path: Path) -> None:
    rows = strengths("strength_psi", 1.0, 5, 14.0)  # MPa under psi: the strongest is 50.8
    assert "The strongest break is 51 psi, too weak" in told(write_study(tmp_path, breaks=csv_bytes(rows)))


def test_temperatures_in_fahrenheit_are_told_so(tmp_path: Path) -> None:
    rows = temperatures()
    rows[0][3] = "temperature_f"
    for row in rows[1:]:
        row[3] = round(1.8 * row[3] + 32.0, 2)
    rows[20][3] = -197.0
    said = told(write_study(tmp_path, breaks=study(), temperatures=rows, prior=CURED.split("\n")[2]))
    assert "The reading is -197 F, outside " in said
    assert " C. Correct the unit" not in said
