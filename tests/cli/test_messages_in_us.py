"""Messages about tables in a plan with US units: strengths in psi, keys of the plan and typed words as they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.cli.main import main
from planner.report.text.shown_units import strengths_in_words
from tests.read.invented_study import PLAN, plan_text, write_study
from tests.read.slips.test_wrong_files import changed, scale


def refused(folder: Path, capsys: pytest.CaptureFixture[str], **tables: str) -> str:
    folder.mkdir()
    path = write_study(folder, breaks=changed(lambda rows: scale(rows, 1000, batch="S3")), plan=plan_text(**tables))
    with pytest.raises(SystemExit) as left:
        main(["check", str(path)])
    assert left.value.code == 2
    return " ".join(capsys.readouterr().err.split())


def test_strengths_of_a_table_are_told_in_the_units_of_the_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 8 MPa x 0.94 x 0.98 in kPa stand as 7400 MPa: 7400 x 145.0377 = 1,073,279
    assert "The strength is 7400 MPa" in refused(tmp_path / "si", capsys)
    in_us = refused(tmp_path / "us", capsys, output='units = "US"')
    assert "The strength is 1,073,280 psi" in in_us
    assert " MPa" not in in_us


def test_keys_of_the_plan_keep_their_own_units(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = PLAN["target"] + '\nstrengths = ["3000 MPa"]'
    said = refused(tmp_path / "us", capsys, output='units = "US"', target=target)
    assert 'Given "3000 MPa"; a strength is above 0 and at most 300 MPa' in said


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("The strength is 20 MPa.", "The strength is 2,900 psi."),
        ('Given "20 MPa" where 10 MPa stood', 'Given "20 MPa" where 1,450 psi stood'),
        ("at 20 C and 100 mm", "at 20 C and 100 mm"),
    ],
)
def test_only_strengths_outside_quotation_marks_are_exchanged(text: str, shown: str) -> None:
    assert strengths_in_words(text) == shown
