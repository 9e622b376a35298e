"""Killed at every single step of writing the results: what stands there is of one run, and the next one tidies up."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from planner.report.documents.folder import check_folder, write_files
from planner.report.documents.switch import LIST, LOCK, PREFIX, switch_files

NAMES = ("recommendation.json", "choices.csv", "report.html")
OLD = dict.fromkeys(NAMES[:2], b"old")
# Dies without a word at the n-th file that is flushed or moved, as in a power cut.
WRITER = """
import os, signal, sys
from pathlib import Path
from planner.report.documents.folder import write_files
left = [int(sys.argv[2])]
def dying(step):
    def counted(*args):
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        left[0] -= 1
        return step(*args)
    return counted
os.fsync, Path.replace = dying(os.fsync), dying(Path.replace)
write_files(Path(sys.argv[1]), dict.fromkeys(sys.argv[3:], b"new"))
"""
CHECKER = """
import sys
from pathlib import Path
from planner.report.documents.folder import check_folder
check_folder(Path(sys.argv[1]))
"""
N_STEPS = 3 + 1 + 2 + 3  # three files and their list flushed, two old ones moved out, three new ones in


def shown(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name in NAMES}


def is_of_one_run(files: dict[str, bytes]) -> bool:
    return len(set(files.values())) <= 1


def test_whenever_it_is_killed_nothing_is_mixed_and_the_next_run_tidies_up(tmp_path: Path) -> None:
    seen = []
    for n_steps in range(N_STEPS + 1):
        folder = tmp_path / f"after-{n_steps}"
        write_files(folder, OLD)
        (folder / "mine.txt").write_bytes(b"mine")
        done = subprocess.run([sys.executable, "-c", WRITER, folder, str(n_steps), *NAMES], check=False)
        assert (done.returncode == 0) == (n_steps == N_STEPS)
        assert is_of_one_run(shown(folder))
        check_folder(folder)  # what the next run begins with
        assert shown(folder) in (OLD, dict.fromkeys(NAMES, b"new"))
        assert sorted(path.name for path in folder.iterdir()) == sorted((*shown(folder), "mine.txt"))
        seen.append(shown(folder)[NAMES[0]])
    # Up to the list the old ones stay; from then on the new ones are whole somewhere, and come.
    assert seen == [b"old"] * 3 + [b"new"] * (N_STEPS - 2)


@pytest.mark.parametrize("damage", [b"", b"[1]", b'{"../outside": "0"}', b'{"choices.csv": "0"}', b"\xff"])
def test_a_list_that_is_damaged_moves_nothing(tmp_path: Path, damage: bytes) -> None:
    write_files(tmp_path, OLD)
    left = tmp_path / f"{PREFIX}left"
    (left / "new").mkdir(parents=True)
    (left / "new" / "choices.csv").write_bytes(b"new")
    (left / LOCK).write_bytes(b"")
    (left / LIST).write_bytes(damage)
    check_folder(tmp_path)
    assert shown(tmp_path) == OLD
    assert not left.exists()


def test_a_writer_that_is_still_at_work_is_let_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    met: list[list[str]] = []
    move = Path.replace

    def met_by_another(self: Path, target: Path) -> Path:
        subprocess.run([sys.executable, "-c", CHECKER, tmp_path], check=True)
        met.append([path.name for path in tmp_path.glob(f"{PREFIX}*")])
        return move(self, target)

    monkeypatch.setattr(Path, "replace", met_by_another)
    switch_files(tmp_path, {"one.json": b"one"})
    assert len(met) == 1
    assert len(met[0]) == 1
    assert (tmp_path / "one.json").read_bytes() == b"one"
