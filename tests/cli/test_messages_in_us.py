"""Messages of a plan with US units: figures in psi and F, keys of the plan and typed words as they are."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from planner.cli.main import main
from planner.report.text.refusal_words import refusal_in_words
from planner.report.text.shown_units import shown_in
from planner.terms.plan.shown_as import ShownAs
from planner.terms.problems import InputError, NoScheduleError, Problem
from tests.cli.conftest import Engine, Outcome
from tests.read.invented_study import PLAN, plan_text, write_study
from tests.read.slips.test_wrong_files import CURED, changed, scale, study, temperatures


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
        ("begins at 68 C, 100 mm", "begins at 154 F, 4 in"),
    ],
)
def test_quantities_outside_quotation_marks_are_exchanged(text: str, shown: str) -> None:
    assert refusal_in_words(text) == text
    with shown_in(ShownAs(units="US")):
        assert refusal_in_words(text) == shown


def test_temperatures_of_a_table_are_told_in_the_units_of_the_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for units, said, left in (("SI", "begins at 68 C", "154 F"), ("US", "begins at 154 F", "68 C")):
        folder = tmp_path / units
        folder.mkdir()
        plan = plan_text(prior=CURED, output=f'units = "{units}"')
        path = write_study(folder, breaks=study(), temperatures=temperatures(level_c=68.0), plan=plan)
        with pytest.raises(SystemExit):
            main(["check", str(path)])
        told = " ".join(capsys.readouterr().err.split())
        assert said in told
        assert left not in told


@pytest.fixture
def in_us(plan: Path) -> Path:
    plan.write_text(plan.read_text(encoding="utf-8") + '\n[output]\nunits = "US"\n', encoding="utf-8")
    return plan


REFUSALS = [
    (InputError([Problem("breaks.csv", 'Weaker than 3 MPa at 20 C: "20 MPa slab".', row=4)]), 2),
    (NoScheduleError('Nothing reaches 3 MPa at 20 C but "20 MPa slab".'), 3),
]


@pytest.mark.parametrize(("failure", "code"), REFUSALS)
@pytest.mark.parametrize("asked", [("recommend",), ("score", "--schedule", "6 h x3, 1 d x3, 28 d x2")])
def test_what_the_search_refuses_is_told_in_the_units_of_the_plan(
    run: Callable[..., Outcome], engine: Engine, in_us: Path, failure: Exception, code: int, asked: tuple[str, ...]
) -> None:
    engine.failure = failure
    outcome = run(asked[0], in_us, *asked[1:])
    assert outcome.code == code
    assert "440 psi at 68 F" in outcome.err
    assert '"20 MPa slab"' in outcome.err


def test_a_sweep_gives_every_reason_in_the_units_of_its_plan(
    run: Callable[..., Outcome], engine: Engine, in_us: Path, tmp_path: Path
) -> None:
    (in_us.parent / "metric.toml").write_text(in_us.read_text("utf-8").replace('"US"', '"SI"'), encoding="utf-8")
    engine.failure = REFUSALS[0][0]
    outcome = run("sweep", in_us.parent, "--out", tmp_path / "out")
    with (tmp_path / "out" / "sweep.csv").open(newline="", encoding="utf-8") as stream:
        reasons = {row["plan"]: row["problem"] for row in csv.DictReader(stream)}
    assert "3 MPa at 20 C" in reasons["metric.toml"]
    assert "440 psi at 68 F" in reasons["plan.toml"]
    shown = " ".join(outcome.out.split())
    assert "metric.toml: breaks.csv, row 4: Weaker than 3 MPa at 20 C" in shown
    assert "plan.toml: breaks.csv, row 4: Weaker than 440 psi at 68 F" in shown


@pytest.mark.parametrize(("metric", "shown"), [(False, "2,900 psi"), (True, "20 MPa")])
def test_a_table_of_plans_is_in_us_units_where_all_of_them_are(
    run: Callable[..., Outcome], in_us: Path, metric: bool, shown: str
) -> None:
    text = in_us.read_text("utf-8").replace("[target]", '[target]\nstrengths = ["20 MPa"]')
    in_us.write_text(text, encoding="utf-8")
    if metric:
        (in_us.parent / "metric.toml").write_text(text.replace('"US"', '"SI"'), encoding="utf-8")
    told = " ".join(run("sweep", in_us.parent).out.split())
    assert shown in told
    assert ("MPa" in told) == metric
