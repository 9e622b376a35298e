"""The commands: exit codes, what goes to which stream, what lands in the folder."""

from __future__ import annotations

import csv
import errno
import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

import planner
from planner.report.documents import choices_file
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.text import needed_library
from planner.terms.problems import InputError, NoScheduleError, Problem
from tests.cli.conftest import Engine, Outcome
from tests.report.accounts.test_continuing import TRIAL
from tests.report.invented_answers import invented_minimum, invented_price

Run = Callable[..., Outcome]


def test_the_recommendation_goes_to_standard_output(run: Run, plan: Path, engine: Engine) -> None:
    outcome = run("recommend", plan)
    assert outcome.code == 0
    assert "6 h x3, 12 h x3, 1 d x3, 28 d x2" in outcome.out
    assert "What the records cannot separate" not in outcome.out
    assert outcome.err == ""
    assert engine.asked[0]["seed"] == 1
    assert engine.asked[0]["n_draws"] == 400
    assert engine.asked[0]["workers"] is None


def test_the_whole_account_is_printed_on_request(run: Run, plan: Path) -> None:
    brief, full = run("recommend", plan), run("recommend", plan, "--full")
    assert full.code == 0
    assert "What the records cannot separate" in full.out
    assert len(brief.out.splitlines()) <= 90 < len(full.out.splitlines())


def test_options_reach_the_engine(run: Run, plan: Path, engine: Engine) -> None:
    run("recommend", plan, "--seed", 7, "--draws", 50, "--workers", 2)
    asked = engine.asked[0]
    assert (asked["seed"], asked["n_draws"], asked["workers"]) == (7, 50, 2)


def half_filled(folder: Path, plan: Path) -> Path:
    """The workbook that was written, its Breaks sheet as a spreadsheet program saves it: one age in, the rest empty."""
    del plan
    path = folder / "workbook.xlsx"
    book = openpyxl.load_workbook(path)
    sheet = book["Breaks"]
    sheet.delete_rows(2, sheet.max_row)
    for specimen, strength in (("a", 17.2), ("b", 16.4)):
        sheet.append(["T1", "", specimen, "cylinder 100x200 mm", "standard", 12, 12, strength])
    for _ in range(5):
        sheet.append([""] * 8)
    book.save(path)
    return path


def test_first_breaks_of_the_trial_batch_reach_the_engine(run: Run, plan: Path, engine: Engine, tmp_path: Path) -> None:
    assert run("recommend", plan, "--out", tmp_path / "out").code == 0
    assert engine.asked[0]["trial"] is None
    engine.answer = replace(engine.answer, trial=TRIAL)
    left = run("recommend", plan, "--trial", half_filled(tmp_path / "out", plan))
    assert left.code == 0
    given = engine.asked[1]["trial"]
    assert [item.strength_mpa for item in given.records.breaks] == [17.2, 16.4]
    assert left.out.startswith("Trial batch T1 after its first breaks")
    assert json.loads(run("recommend", plan, "--json").out)["trial"]["action"] == "move"


def test_a_wrong_trial_file_is_told_before_the_work(run: Run, plan: Path, engine: Engine, tmp_path: Path) -> None:
    left = run("recommend", plan, "--trial", tmp_path / "none.csv")
    assert left.code == 2
    assert "none.csv: There is no such file" in " ".join(left.err.split())
    assert engine.asked == []


def test_first_breaks_are_read_from_python_too(plan: Path, engine: Engine, tmp_path: Path) -> None:
    path = tmp_path / "first.csv"
    path.write_text("batch,curing,age_h,strength_mpa\nT1,standard,12,17\n", encoding="utf-8")
    planner.recommend(plan, trial=path)
    assert engine.asked[0]["trial"].file == "first.csv"
    with pytest.raises(TypeError, match="give the path of the plan"):
        planner.recommend(planner.load_plan(plan), trial=path)


def test_without_out_nothing_is_written(run: Run, plan: Path) -> None:
    before = sorted(plan.parent.parent.rglob("*"))
    run("recommend", plan)
    assert sorted(plan.parent.parent.rglob("*")) == before


def test_json_prints_the_document_of_the_file_and_nothing_else(run: Run, plan: Path, tmp_path: Path) -> None:
    outcome = run("recommend", plan, "--json", "--out", tmp_path / "out")
    assert outcome.out == (tmp_path / "out" / "recommendation.json").read_text(encoding="utf-8")
    assert json.loads(outcome.out)["recommended"]["n_specimens"] == 11
    assert "recommendation.json" in outcome.err


def test_out_gets_the_files_of_the_contract(run: Run, plan: Path, engine: Engine, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "mine.txt").write_text("mine")
    assert run("recommend", plan, "--out", out).code == 0
    assert (out / "recommendation.json").read_text() == write_json(recommendation_document(engine.answer))
    with (out / "choices.csv").open(newline="") as stream:
        assert len(list(csv.DictReader(stream))) == len(engine.answer.choices.schedules)
    assert (out / "mine.txt").read_text() == "mine"
    assert {path.name for path in out.iterdir()} >= {
        "recommendation.json",
        "choices.csv",
        "report.html",
        "mine.txt",
    }


def test_only_the_best_choices_are_written_unless_all_are_wanted(
    run: Run, plan: Path, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert choices_file.MOST_WRITTEN == 20_000
    monkeypatch.setattr(choices_file, "MOST_WRITTEN", 3)
    run("recommend", plan, "--out", tmp_path / "best")
    run("recommend", plan, "--all-choices", "--out", tmp_path / "all")
    best, every = ((tmp_path / name / "choices.csv").read_text().splitlines() for name in ("best", "all"))
    assert len(every) == len(engine.answer.choices.schedules) + 1 > 4
    assert best == every[:4]


def test_a_casting_time_dates_the_breaks_everywhere(run: Run, plan: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    outcome = run("recommend", plan, "--cast", "2027-03-01 22:00", "--out", out)
    assert outcome.code == 0
    assert "Cast Mon 2027-03-01 22:00" in outcome.out
    assert "Tue 02 Mar 03:45" in outcome.out  # half an hour of breaking, centred on 04:00
    assert (out / "breaks.ics").read_bytes().count(b"BEGIN:VEVENT") == 4
    assert "Cast Mon 01 Mar 2027 22:00" in (out / "report.html").read_text(encoding="utf-8")


def test_a_later_calendar_revises_the_earlier_one(run: Run, plan: Path, tmp_path: Path) -> None:
    calendars = []
    for _ in range(2):
        run("recommend", plan, "--cast", "2027-03-01 22:00", "--out", tmp_path / "out")
        calendars.append((tmp_path / "out" / "breaks.ics").read_bytes())
    assert b"SEQUENCE:0" in calendars[0]
    assert b"SEQUENCE:1" in calendars[1]


def test_each_trial_batch_may_have_its_own_casting(run: Run, plan: Path) -> None:
    plan.write_text(plan.read_text(encoding="utf-8") + "\n[programme]\ntrial_batches = 2\n", encoding="utf-8")
    outcome = run("recommend", plan, "--cast", "2027-03-01 22:00", "--cast", "2027-03-08 08:00/2027-03-08 12:00")
    assert "Cast trial-1 Mon 2027-03-01 22:00" in outcome.out
    assert "Cast trial-2 Mon 2027-03-08" in outcome.out


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("monday", "is no casting time"),
        ("2027-03-02 22:00/2027-03-01 22:00", "ends before it begins"),
        ("2027-03-01", "names a day without its hour"),
        ("2027-03-01 22:00/2027-03-02", "names a day without its hour"),
        ("20270301", "names a day without its hour"),
        ("1927-03-01 22:00", "outside the years 2000 to 2100"),
        ("9999-12-31 23:00", "outside the years 2000 to 2100"),
        ("2027-03-01 22:00/2057-03-01 22:00", "a window of 10,958 days, more than the 366"),
        ("2027-03-01/2027-03-02/2027-03-03", "is no casting time"),
        ("2027-03-01T22:00+01:00/2027-03-02T22:00", "names a time zone once"),
        ("2027-02-29 22:00", "is no casting time"),
        ("2027-03-01 24:30", "is no casting time"),
        ("", "is no casting time"),
    ],
)
def test_a_wrong_casting_time_is_told_before_the_work(
    run: Run, plan: Path, engine: Engine, text: str, said: str
) -> None:
    outcome = run("recommend", plan, "--cast", text)
    assert outcome.code == 2
    assert said in outcome.err
    assert engine.asked == []


def test_casting_times_that_do_not_exist_are_told_before_the_work(run: Run, plan: Path, engine: Engine) -> None:
    plan.write_text(plan.read_text() + '\n[laboratory]\ntime_zone = "Europe/Oslo"\n')
    times = ("--cast", "2027-03-28 02:30", "--cast", "2027-03-27 22:00/2027-03-28 02:15")
    outcome = run("recommend", plan, *times)
    assert outcome.code == 2
    assert "2027-03-28 02:30 does not exist in Europe/Oslo" in outcome.err
    assert "2027-03-28 02:15 does not exist in Europe/Oslo" in outcome.err
    assert engine.asked == []


@pytest.mark.parametrize(
    ("earlier", "text"),
    [
        (b"no calendar", "cannot be read"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nSEQUENCE:2147483647\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n", "count from 0"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nSEQUENCE:-9\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n", "count from 0"),
    ],
    ids=["unreadable", "last", "negative"],
)
def test_an_earlier_calendar_that_cannot_be_revised_is_told_before_the_work(
    run: Run, plan: Path, engine: Engine, tmp_path: Path, earlier: bytes, text: str
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "breaks.ics").write_bytes(earlier)
    outcome = run("recommend", plan, "--cast", "2027-03-01 22:00", "--out", out)
    assert outcome.code == 2
    assert text in outcome.err
    assert "Remove it or write to another folder" in outcome.err
    assert engine.asked == []
    assert run("recommend", plan, "--out", out).code == 0  # without dates no calendar is written


def test_ages_that_have_no_tolerance_are_told_before_the_work(run: Run, plan: Path, engine: Engine) -> None:
    plan.write_text(plan.read_text() + '\n[laboratory]\nage_tolerances = "24 h +-0.5 h"\n')
    outcome = run("recommend", plan, "--cast", "2027-03-01 22:00")
    assert outcome.code == 2
    assert "do not cover" in outcome.err
    assert engine.asked == []


@pytest.mark.parametrize(
    ("option", "value"),
    [("--draws", 10**12), ("--draws", 10**400), ("--workers", 10**9)],
    ids=["draws", "digits", "workers"],
)
def test_numbers_that_cannot_be_worked_with_are_told_with_their_limit(
    run: Run, plan: Path, engine: Engine, option: str, value: int
) -> None:
    limit = {"--draws": "100,000", "--workers": "1,024"}[option]
    outcome = run("recommend", plan, option, value)
    assert outcome.code == 2
    assert f"is more than the {limit} that can be worked with" in outcome.err
    assert engine.asked == []


def test_the_whole_account_and_the_document_are_not_asked_for_together(run: Run, plan: Path, engine: Engine) -> None:
    outcome = run("recommend", plan, "--json", "--full")
    assert (outcome.code, outcome.out) == (2, "")
    assert "--json prints the whole document: leave out --full" in outcome.err
    assert engine.asked == []


def test_the_pictures_show_the_weeks_of_dated_castings(run: Run, plan: Path, engine: Engine, tmp_path: Path) -> None:
    engine.answer = replace(engine.answer, growth=(), held_out=(), frontier=(), ages=())  # other pictures, slow to draw
    run("recommend", plan, "--figures", "--out", tmp_path / "one", "--cast", "2027-03-01 22:00")
    assert (tmp_path / "one" / "figure-week.png").read_bytes().startswith(b"\x89PNG")
    plan.write_text(plan.read_text(encoding="utf-8") + "\n[programme]\ntrial_batches = 2\n", encoding="utf-8")
    two = ("--cast", "2027-03-01 22:00", "--cast", "2027-03-08 22:00")
    run("recommend", plan, "--figures", "--out", tmp_path / "two", *two)
    names = {path.name for path in (tmp_path / "two").glob("figure-week*.svg")}
    assert names == {"figure-week-1.svg", "figure-week-2.svg"}


def test_figures_are_written_on_request(run: Run, plan: Path, engine: Engine, tmp_path: Path) -> None:
    engine.answer = replace(engine.answer, growth=(), held_out=(), frontier=(), ages=())
    assert run("recommend", plan, "--figures", "--out", tmp_path / "out").code == 0
    names = {path.name for path in (tmp_path / "out").glob("figure-*")}
    assert names == {f"figure-{name}.{kind}" for name in ("schedules", "limit") for kind in ("png", "svg")}
    assert run("recommend", plan, "--figures").code == 2


def test_without_what_draws_figures_the_line_that_installs_it_is_told_before_the_work(
    run: Run, plan: Path, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(needed_library, "find_spec", lambda _name: None)
    outcome = run("recommend", plan, "--figures", "--out", tmp_path / "out")
    assert (outcome.code, outcome.out) == (2, "")
    assert 'pip install "test-age-planner[figures]"' in outcome.err
    assert engine.asked == []
    assert run("recommend", plan, "--out", tmp_path / "out").code == 0


def test_a_folder_that_cannot_be_used_is_told_before_the_work(
    run: Run, plan: Path, engine: Engine, tmp_path: Path
) -> None:
    (tmp_path / "out").write_text("a file")
    outcome = run("recommend", plan, "--out", tmp_path / "out")
    assert outcome.code == 2
    assert "A file stands where a folder is needed" in outcome.err
    assert engine.asked == []


def test_a_full_disk_does_not_cost_the_answer(
    run: Run, plan: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    outcome = run("recommend", plan, "--out", tmp_path / "out")
    assert outcome.code == 2
    assert "disk is full" in outcome.err
    assert "6 h x3, 12 h x3, 1 d x3, 28 d x2" in outcome.out
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("failure", "code", "text"),
    [
        (InputError([Problem("a.csv", "bad", 3, "age_h"), Problem("b.csv", "worse")]), 2, "2 problems"),
        (NoScheduleError("Allow more specimens."), 3, "Allow more specimens."),
        (KeyboardInterrupt(), 130, "Interrupted"),
        (MemoryError(), 1, "not enough memory"),
        (OSError(errno.EIO, "Input/output error", "breaks.csv"), 2, "breaks.csv: Input/output error"),
        (ZeroDivisionError("division by zero"), 1, "a fault of the program"),
    ],
)
def test_every_failure_is_a_sentence_and_a_code(
    run: Run, plan: Path, engine: Engine, failure: BaseException, code: int, text: str
) -> None:
    engine.failure = failure
    outcome = run("recommend", plan)
    assert outcome.code == code
    assert outcome.out == ""
    assert text in outcome.err


def test_all_problems_of_the_input_are_listed(run: Run, plan: Path) -> None:
    plan.write_text(plan.read_text().replace("specimens = 18", "specimen = 18").replace('"10 %"', '"110 %"'))
    for command in (
        ("recommend", plan),
        ("check", plan),
        ("score", plan, "--schedule", "1 d x3, 2 d x3, 7 d x2"),
    ):
        outcome = run(*command)
        assert outcome.code == 2
        assert outcome.out == ""
        assert "specimen" in outcome.err
        assert "tolerance" in outcome.err


@pytest.mark.parametrize(
    "arguments",
    [
        ("recommend",),
        ("recommend", "no-such-plan.toml"),
        ("recommend", "plan.toml", "--seed", "-1"),
        ("recommend", "plan.toml", "--colour"),
        ("ponder", "plan.toml"),
        ("score", "plan.toml"),
    ],
)
def test_wrong_usage_is_told_with_code_2(run: Run, arguments: tuple[str, ...]) -> None:
    outcome = run(*arguments)
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err


def test_score_sets_the_schedule_beside_the_recommendation(run: Run, plan: Path) -> None:
    outcome = run("score", plan, "--schedule", "1 d x3, 2 d x3, 7 d x2")
    assert outcome.code == 0
    assert "1 d x3, 2 d x3, 7 d x2" in outcome.out
    assert "6 h x3, 12 h x3, 1 d x3" in outcome.out
    assert "approves nothing" in outcome.out


def test_score_writes_one_document(run: Run, plan: Path, tmp_path: Path) -> None:
    outcome = run("score", plan, "--schedule", "1 d x3, 2 d x3", "--json", "--out", tmp_path / "out")
    assert json.loads(outcome.out)["scored"]["ages_h"] == [24.0, 48.0]
    assert outcome.out == (tmp_path / "out" / "score.json").read_text()


def test_a_schedule_that_cannot_be_read_is_told(run: Run, plan: Path, engine: Engine) -> None:
    outcome = run("score", plan, "--schedule", "soon, and then later")
    assert outcome.code == 2
    assert "schedule" in outcome.err
    assert engine.asked == []


def test_check_tells_what_the_records_hold(run: Run, plan: Path) -> None:
    outcome = run("check", plan)
    assert outcome.code == 0
    for word in ("Batches", "Within-test scatter", "ASTM C39", "Temperatures", "can and cannot answer"):
        assert word in outcome.out


def test_start_gives_a_plan_that_can_be_checked(run: Run, tmp_path: Path) -> None:
    outcome = run("start", tmp_path / "new")
    assert outcome.code == 0
    assert run("check", tmp_path / "new" / "plan.toml").code == 0


def test_start_overwrites_nothing(run: Run, plan: Path) -> None:
    plan.write_text("mine")
    (plan.parent / "breaks.csv").unlink()
    outcome = run("start", plan.parent)
    assert outcome.code == 2
    assert "not overwritten" in outcome.err
    assert plan.read_text() == "mine"
    assert not (plan.parent / "breaks.csv").exists()


def test_help_names_every_command(run: Run) -> None:
    outcome = run("--help")
    assert outcome.code == 0
    for command in ("recommend", "score", "check", "start"):
        assert command in outcome.out
        assert run(command, "--help").code == 0


def test_a_reader_that_leaves_early_is_no_failure(plan: Path) -> None:
    program = f"{sys.executable} -m planner.cli.main check '{plan}'"
    done = subprocess.run(
        ["bash", "-c", f"{program} | head -n 1; exit ${{PIPESTATUS[0]}}"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0
    assert done.stderr == ""


def test_help_loads_nothing_heavy() -> None:
    heavy = [
        "numpy",
        "scipy",
        "pandas",
        "sklearn",
        "numba",
        "pint",
        "pydantic",
        "openpyxl",
        "matplotlib",
        "jinja2",
    ]
    code = (
        "import sys\n"
        "from planner.cli.boundary import run\n"
        "from planner.cli.main import test_ages\n"
        "run(test_ages, ['--help'], program='test-ages')\n"
        f"sys.exit(','.join(name for name in {heavy!r} if name in sys.modules) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_check_loads_nothing_that_fits(plan: Path) -> None:
    """Plans are checked in an editor, again and again: half of the time would go into loading what fits curves."""
    heavy = ["numba", "scipy.optimize", "scipy.stats", "sklearn", "matplotlib"]
    code = (
        "import sys\n"
        "from planner.cli.boundary import run\n"
        "from planner.cli.main import test_ages\n"
        f"run(test_ages, ['check', {str(plan)!r}], program='test-ages')\n"
        f"sys.exit(','.join(name for name in {heavy!r} if name in sys.modules) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "batches" in done.stdout


@pytest.mark.parametrize(
    "words", [("recommend",), ("score", "--schedule", "1 d x3, 7 d x3, 28 d x3"), ("price",), ("minimum",)]
)
def test_every_command_reads_outside_the_folder_only_when_told(
    run: Run, plan: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    answers = {"price": invented_price(), "minimum": invented_minimum()}
    for name, answer in answers.items():
        monkeypatch.setitem(sys.modules["planner.pipeline"].__dict__, name, lambda *_, answer=answer, **__: answer)
    (plan.parent / "breaks.csv").rename(plan.parent.parent / "breaks.csv")
    plan.write_text(plan.read_text().replace('"breaks.csv"', '"../breaks.csv"'))
    command, *given = words
    assert run(command, plan, *given).code == 2
    assert run(command, plan, *given, "--allow-outside").code == 0
