"""The real program, stopped at any moment and started again; every stop leaves the old outputs whole.

What is stopped is a process of its own; what runs to its end runs in this one, by the same command. The
search is cut finer than usual, so that a small one has pieces enough to be stopped between them.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from planner.resampling.search import partition
from planner.starter import STARTER
from tests.commands_here import run_here

ROWS_PER_PIECE = 50_000
FINER = f"""
from planner.cli.main import main
from planner.resampling.search import partition
partition.ROWS_PER_PIECE = {ROWS_PER_PIECE}
main()
"""
PROGRAM = (sys.executable, "-c", FINER)
SPEED = ("--draws", "20", "--json")
LARGER = {"specimens_per_age = [2, 3]": "specimens_per_age = [1, 3]", "specimens = 18": "specimens = 20"}
RESULTS = {"recommendation.json", "choices.csv", "report.html", "workbook.xlsx", "testing-room.html"}


@pytest.fixture(autouse=True, scope="module")
def engine() -> Iterator[None]:
    """The real one, not the one of this room, cut as finely as in the other processes."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(partition, "ROWS_PER_PIECE", ROWS_PER_PIECE)
        yield


@pytest.fixture
def large(tmp_path: Path) -> Path:
    """The starter plan with so many schedules that the search has dozens of pieces."""
    return written(tmp_path / "plan")


@pytest.fixture(scope="module")
def whole(engine: None, tmp_path_factory: pytest.TempPathFactory) -> Any:  # noqa: ARG001
    """What is answered when nothing stops it; a process of its own is held against it where an input vanishes."""
    plan = written(tmp_path_factory.mktemp("whole") / "plan")
    code, found, err = run("recommend", plan, *SPEED)
    assert code == 0, err
    return answer(found)


def written(folder: Path) -> Path:
    folder.mkdir()
    for path in STARTER.iterdir():
        if path.suffix in (".toml", ".csv"):
            (folder / path.name).write_bytes(path.read_bytes())
    plan = folder / "plan.toml"
    text = plan.read_text(encoding="utf-8")
    for old, new in LARGER.items():
        assert old in text
        text = text.replace(old, new)
    plan.write_text(text, encoding="utf-8")
    return plan


def begin(*arguments: object) -> subprocess.Popen[str]:
    def heed_interrupts() -> None:  # ignored by what a script runs in the background
        signal.signal(signal.SIGINT, signal.default_int_handler)

    return subprocess.Popen(
        [*PROGRAM, *map(str, arguments)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        encoding="utf-8", preexec_fn=heed_interrupts,
    )  # fmt: skip


def run(*arguments: object) -> tuple[int, str, str]:
    """Run the command here, to its end."""
    ended = run_here(*arguments)
    return ended.code, ended.out, ended.err


@contextmanager
def limited(n_bytes: int) -> Iterator[None]:
    """Inside, no file that this process writes can grow longer; what a command prints goes into no file."""
    before, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (n_bytes, most))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (before, most))


def pieces(out: Path) -> list[Path]:
    return list(out.glob(".unfinished/*/piece-*.npz"))


def stop_when(process: subprocess.Popen[str], is_time: Callable[[], bool], how: signal.Signals) -> tuple[str, str]:
    deadline = time.monotonic() + 100
    while not is_time() and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.002)
    assert process.poll() is None, process.communicate()
    process.send_signal(how)
    return process.communicate(timeout=60)


def answer(text: str) -> Any:
    """The document without what differs from run to run."""
    document = json.loads(text)
    del document["search"]["seconds"]
    return document


@pytest.mark.slow
def test_killed_again_and_again_it_goes_on_and_ends_the_same(large: Path, tmp_path: Path, whole: Any) -> None:
    out = tmp_path / "out"
    for n_more in (2, 5):
        n_before = len(pieces(out))
        process = begin("recommend", large, *SPEED, "--out", out, "--resume")
        stop_when(process, lambda n=n_before + n_more: len(pieces(out)) >= n, signal.SIGKILL)  # type: ignore[misc]
        assert process.returncode == -signal.SIGKILL
        assert {path.name for path in out.iterdir()} == {".unfinished"}
        assert len(pieces(out)) >= n_before + n_more
    code, again, err = run("recommend", large, *SPEED, "--out", out, "--resume")
    assert code == 0, err
    assert "Going on" in err
    assert answer(again) == whole
    assert {path.name for path in out.iterdir()} == RESULTS


@pytest.mark.slow
def test_interrupted_it_says_how_to_go_on_and_a_changed_input_is_not_mixed(large: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "recommendation.json").write_text("from before")
    process = begin("recommend", large, *SPEED, "--out", out)
    stdout, err = stop_when(process, lambda: len(pieces(out)) >= 2, signal.SIGINT)
    assert process.returncode == 130, err
    assert stdout == ""
    assert "Traceback" not in err
    assert "with --resume to go on" in err
    assert (out / "recommendation.json").read_text() == "from before"
    assert {path.name for path in out.iterdir()} == {".unfinished", "recommendation.json"}
    breaks = large.parent / "breaks.csv"
    lines = breaks.read_text(encoding="utf-8").splitlines()
    breaks.write_text("\n".join([lines[0], *lines[2:]]) + "\n", encoding="utf-8")  # one specimen less
    code, fresh, _err = run("recommend", large, *SPEED)
    assert code == 0
    code, resumed, err = run("recommend", large, *SPEED, "--out", out, "--resume")
    assert code == 0
    assert "have changed" in err
    assert answer(resumed) == answer(fresh)


@pytest.mark.slow
@pytest.mark.parametrize("limit_bytes", [1_000, 1_000_000])
def test_a_full_disk_costs_neither_the_answer_nor_the_old_outputs(
    large: Path, tmp_path: Path, limit_bytes: int
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "recommendation.json").write_text("from before")
    with limited(limit_bytes):
        code, found, err = run("recommend", large, *SPEED, "--out", out)
    assert code == 2
    assert err.count("cannot be written") == (limit_bytes > 1_000)  # with less the workbook cannot be made at all
    assert err.count("cannot be kept") == (limit_bytes == 1_000)
    assert answer(found)["recommended"]["n_specimens"] > 0
    assert (out / "recommendation.json").read_text() == "from before"
    assert {path.name for path in out.iterdir()} <= {".unfinished", "recommendation.json"}
    assert bool(pieces(out)) == ("with --resume to go on" in err) == (limit_bytes > 1_000)


@pytest.mark.slow
def test_an_input_that_vanishes_while_it_works_changes_nothing(large: Path, tmp_path: Path, whole: Any) -> None:
    out = tmp_path / "out"
    process = begin("recommend", large, *SPEED, "--out", out)
    deadline = time.monotonic() + 100
    while not pieces(out) and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.002)
    (large.parent / "breaks.csv").unlink()
    found, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert answer(found) == whole
    code, found, err = run("recommend", large, *SPEED, "--out", out, "--resume")
    assert (code, found) == (2, "")
    assert "breaks.csv" in err
    assert answer((out / "recommendation.json").read_text()) == whole


def test_resume_needs_a_folder(large: Path) -> None:
    code, found, err = run("recommend", large, "--resume")
    assert (code, found) == (2, "")
    assert "--out" in err


def test_a_folder_that_takes_no_files_is_told_before_anything_is_computed(large: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file")
    begun = time.monotonic()
    code, found, err = run("recommend", large, "--out", blocked / "out")
    assert (code, found) == (2, "")
    assert "Nothing was changed" in err
    assert time.monotonic() - begun < 30


def test_paths_that_leave_the_folder_are_refused_unless_allowed(large: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.csv"
    (large.parent / "breaks.csv").rename(elsewhere)
    text = large.read_text(encoding="utf-8").replace('"breaks.csv"', '"../elsewhere.csv"')
    for old, new in LARGER.items():
        text = text.replace(new, old)
    large.write_text(text, encoding="utf-8")
    code, found, err = run("recommend", large, *SPEED)
    assert (code, found) == (2, "")
    assert "leaves the folder" in err
    code, found, err = run("recommend", large, *SPEED, "--allow-outside")
    assert code == 0, err
    assert answer(found)["recommended"]["n_specimens"] > 0


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_a_folder_without_permission_is_told(large: Path, tmp_path: Path) -> None:
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    code, found, err = run("recommend", large, "--out", locked)
    assert (code, found) == (2, "")
    assert "not permitted" in err
