"""``test-ages curve``: files, exit codes and messages; what is computed is tested elsewhere."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import planner
from planner.read.curve_file import read_curve
from tests.after_casting.test_check_pours import rows
from tests.after_casting.test_read_pour import FOUR_HOURS, early
from tests.cli.conftest import Engine, Outcome
from tests.issued_curve.invented_curves import pour_model
from tests.issued_curve.trial_files import PLAN, recommendation, write_checks, write_trial
from tests.report.accounts.test_early_breaks import ANSWER

Run = Callable[..., Outcome]
LATE = early(24, 30.0, 25)


@pytest.fixture(autouse=True)
def found(engine: Engine) -> None:
    """The stand-in recommends for the runway's concrete."""
    engine.answer = recommendation()


def issue(run: Run, folder: Path, *more: object) -> Outcome:
    breaks, temperatures = write_trial(folder, "T1")
    return run("curve", PLAN, "--trial", breaks, "--temperatures", temperatures, *more)


def test_curve_is_issued_with_its_files(run: Run, tmp_path: Path) -> None:
    left = issue(run, tmp_path, "--out", tmp_path / "out")
    assert left.code == 0
    assert "The calibration is accepted." in left.out
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"curve.html", "curve.json", "curve.csv"}
    assert "curve.html" in left.err
    assert read_curve(tmp_path / "out" / "curve.json").number == 1


def test_json_is_the_document_alone(run: Run, tmp_path: Path) -> None:
    left = issue(run, tmp_path, "--json")
    document = json.loads(left.out)
    assert document["schema"] == "test-age-planner/curve/1"
    keys = (
        "schema version inputs mix geometry curve weighting maturity parameters basis supersedes number is_calibrated "
        "table hours readings checks stranger valid_for cautions"
    )
    assert set(keys.split()) <= set(document)
    assert [reading["age_h"] for reading in document["readings"]] == [6.0, 24.0]
    assert {"age_h", "placement", "read_mpa", "broken_mpa", "difference", "passes"} <= set(document["checks"][0])
    assert not list(tmp_path.glob("out*"))


def test_same_inputs_keep_their_number_and_others_get_the_next(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    for _ in range(2):
        issue(run, tmp_path, "--out", out)
        assert read_curve(out / "curve.json").number == 1
    breaks, temperatures = write_trial(tmp_path, "T9")
    assert run("curve", PLAN, "--trial", breaks, "--temperatures", temperatures, "--out", out).code == 0
    later = read_curve(out / "curve.json")
    assert (later.number, later.supersedes) == (2, 1)


def test_a_spoilt_curve_in_the_folder_is_not_written_over(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "curve.json").write_text("{}", encoding="utf-8")
    left = issue(run, tmp_path, "--out", out)
    assert left.code == 2
    assert "curve.json: This is no issued curve" in left.err
    assert [path.name for path in out.iterdir()] == ["curve.json"]


def checked(run: Run, folder: Path, factor: float, *more: object) -> Outcome:
    issue(run, folder, "--out", folder / "out")
    curve = read_curve(folder / "out" / "curve.json")
    listed: list[dict[str, Any]] = []
    for place, maturity in enumerate((6.2, 24.5, 7.0, 26.0, 6.1, 25.0)):
        share = factor * curve.read(maturity) / (50 * (maturity - 4) / (maturity + 16))
        listed += rows(f"P{place}", maturity, share)
    checks = write_checks(folder / "checks.csv", listed)
    return run("curve", PLAN, "--curve", folder / "out" / "curve.json", "--site-checks", checks, *more)


def test_site_checks_keep_a_sound_curve(run: Run, tmp_path: Path) -> None:
    left = checked(run, tmp_path, 1.0, "--out", tmp_path / "checks")
    assert left.code == 0
    assert "The curve is kept." in left.out
    assert {path.name for path in (tmp_path / "checks").iterdir()} == {"site-checks.html", "site-checks.json"}


def test_site_checks_scale_a_curve_down_beside_the_old_one(run: Run, tmp_path: Path) -> None:
    left = checked(run, tmp_path, 0.8, "--out", tmp_path / "out")
    assert left.code == 0
    assert "WITHDRAWN" in left.out
    before, after = (read_curve(tmp_path / "out" / name) for name in ("curve.json", "curve-2.json"))
    assert (after.number, after.supersedes) == (2, before.number)
    assert after.read(24.0) == pytest.approx(after.scale * before.read(24.0))
    assert after.scale < 0.9
    assert {"curve-2.html", "curve-2.csv", "site-checks.html"} <= {path.name for path in (tmp_path / "out").iterdir()}


def test_site_checks_as_json(run: Run, tmp_path: Path) -> None:
    document = json.loads(checked(run, tmp_path, 1.0, "--json").out)
    assert document["schema"] == "test-age-planner/site-checks/1"
    assert len(document["points"]) == 6
    assert document["state"] == "keep"


def test_a_casting_time_is_that_of_the_recommendation(run: Run, engine: Engine, tmp_path: Path) -> None:
    left = issue(run, tmp_path, "--cast", "2027-03-01 22:00")
    assert left.code == 0
    assert [f"{at:%Y-%m-%d %H:%M}" for at in engine.asked[-1]["plan"].settings.castings[0]] == ["2027-03-01 22:00"] * 2
    assert issue(run, tmp_path, "--cast", "tonight").code == 2
    alone = run("curve", PLAN, "--site-checks", "b.csv", "--curve", "curve.json", "--cast", "2027-03-01 22:00")
    assert "give --trial with it" in " ".join(alone.err.split())


def test_another_curve_from_the_same_files_gets_the_next_number(run: Run, engine: Engine, tmp_path: Path) -> None:
    out = tmp_path / "out"
    issue(run, tmp_path, "--out", out)
    advice = recommendation()
    engine.answer = replace(advice, honest=replace(advice.honest, safe_reading_factor=2.0))
    issue(run, tmp_path, "--out", out)
    later = read_curve(out / "curve.json")
    assert (later.number, later.supersedes) == (2, 1)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((), "no breaks of it are given. Give --trial; or write 0 to issue the mean curve"),
        (("--curve", "curve.json"), "Give exactly one of --trial, --site-checks and --pour."),
        (("--trial", "a.csv", "--site-checks", "b.csv"), "Give exactly one of --trial, --site-checks and --pour."),
        (("--pour", "a.csv", "--site-checks", "b.csv"), "Give exactly one of --trial, --site-checks and --pour."),
        (("--pour", "b.csv"), "--pour needs the curve that the pour is read with: give --curve curve.json."),
        (("--pour", "b.csv", "--curve", "curve.json"), "curve.json: There is no such file"),
        (("--site-checks", "b.csv"), "give --curve curve.json"),
        (("--trial", "a.csv", "--curve", "curve.json"), "leave --curve out"),
        (("--trial", "a.csv"), "a.csv: There is no such file"),
        (("--site-checks", "b.csv", "--curve", "curve.json"), "curve.json: There is no such file"),
    ],
)
def test_usage_in_one_message(run: Run, arguments: tuple[str, ...], message: str) -> None:
    left = run("curve", PLAN, *arguments)
    assert left.code == 2
    assert message in " ".join(left.err.split())
    assert left.out == ""


def test_a_pour_is_read_with_the_issued_curve(run: Run, engine: Engine, tmp_path: Path) -> None:
    engine.answer = recommendation(early_breaks=replace(ANSWER, models=(pour_model(),)))
    out = tmp_path / "out"
    issue(run, tmp_path, "--out", out)
    pour = write_checks(tmp_path / "pour.csv", FOUR_HOURS)
    left = run("curve", PLAN, "--curve", out / "curve.json", "--pour", pour, "--out", out)
    assert left.code == 0
    assert "Pour P1 reads 6 h" in " ".join(left.out.split())
    assert {"curve.json", "pour.html", "pour.json"} <= {path.name for path in out.iterdir()}
    printed = run("curve", PLAN, "--curve", out / "curve.json", "--pour", pour, "--json")
    assert json.loads(printed.out) == json.loads((out / "pour.json").read_text(encoding="utf-8"))
    assert json.loads(printed.out)["schema"] == "test-age-planner/pour/1"
    plain = run("curve", PLAN, "--curve", out / "curve.json", "--pour", write_checks(tmp_path / "p.csv", [LATE]))
    assert plain.code == 2
    assert "not before the last target" in " ".join(plain.err.split())
    answer = planner.read_pour(PLAN, out / "curve.json", pour)
    assert answer.result.pour == "P1"
    assert answer.document == json.loads(printed.out)


def test_faults_of_the_trial_are_told_and_nothing_is_written(run: Run, tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1", "T2")
    left = run("curve", PLAN, "--trial", breaks, "--temperatures", temperatures, "--out", tmp_path / "out")
    assert left.code == 2
    assert "There are 2 batches (T1, T2) but the plan asks for one trial batch" in " ".join(left.err.split())
    assert not (tmp_path / "out").exists()


def test_the_same_from_python(tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    answer = planner.issue_curve(PLAN, breaks, temperatures=temperatures)
    curve = answer.result.curve
    assert curve.safe(24.0) == pytest.approx(curve.read(24.0) / curve.promise.safe_factor)
    assert answer.curve is curve
    assert answer.table["strength_mpa"].tolist() == [row.strength_mpa for row in answer.result.table]
    assert answer.readings["age_h"].tolist() == list(curve.target_ages_h)
    accepted = answer.result.acceptance
    assert accepted is not None
    assert answer.checks["difference"].tolist() == [check.companions.difference for check in accepted.checks]
    read = answer.read([1.0, 24.0, 10_000.0])  # before the first break, at 1 d, after the last
    assert read["is_inside"].tolist() == [False, True, False]
    assert read["strength_mpa"].tolist()[1] == curve.read(24.0)
    assert read["safe_mpa"].tolist()[1] == curve.safe(24.0)
    assert read[["strength_mpa", "safe_mpa"]].isna().all(axis=1).tolist() == [True, False, True]
    assert answer.plot().axes[0].get_ylabel() == "strength, MPa"
    assert "The calibration is accepted." in repr(answer)
    written = answer.write(tmp_path / "out")
    checks = write_checks(tmp_path / "checks.csv", rows("P1", 20.0, 1.5))
    judged = planner.site_checks(PLAN, written[1], checks)
    assert judged.result.verdict.n_pours == 1
    assert judged.checks["z"].tolist() == [point.z for point in judged.result.verdict.points]
    assert judged.plot().axes
