"""Compiled loops: nothing old is used after an edit, and there is a place for them wherever the program runs."""

from __future__ import annotations

import ast
import os
import re
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from planner import compiled

TOLD = """
from planner.compiled import kept
from planner.fitting.caller import twice
print(twice(), kept().folder, kept().is_lasting, "|", kept().note)
"""
NO_TEMPORARY_FOLDER = """
import tempfile
def gettempdir():
    raise FileNotFoundError(2, "No usable temporary directory found")
tempfile.gettempdir = gettempdir
"""
TAKES_LOOPS = re.compile(r"from planner\.compiled import .*njit")
CALLED = "from planner.compiled import njit\n\n@njit(cache=True)\ndef once():\n    return {}\n"
CALLER = (
    "from planner.compiled import njit\nfrom planner.fitting.called import once\n\n"
    "@njit(cache=True)\ndef twice():\n    return 2 * once()\n"
)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The least of the program that compiles: two loops, one calling the other in another file."""
    package = tmp_path / "program" / "planner"
    (package / "fitting").mkdir(parents=True)
    shutil.copy(compiled.__file__, package / "compiled.py")
    for folder in (package, package / "fitting"):
        (folder / "__init__.py").write_text("")
    (package / "fitting" / "called.py").write_text(CALLED.format(3))
    (package / "fitting" / "caller.py").write_text(CALLER)
    return package


def run(
    package: Path, *, limit_bytes: int | None = None, before: str = "", **variables: str
) -> tuple[int, str, bool, str]:
    """What the loop answers, where its code is kept, whether that lasts, and what is said of it."""

    def limit() -> None:
        if limit_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit_bytes))

    unset = (compiled.VARIABLE, compiled.NUMBA_VARIABLE, "XDG_CACHE_HOME", "HOME", "TMPDIR")
    surroundings = {name: value for name, value in os.environ.items() if name not in unset}
    # Python tells its own kept code by the second and the size of a file: two edits of a test may share both
    surroundings |= {
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONPATH": str(package.parent),
        "HOME": "/dev/null",
        **variables,
    }
    done = subprocess.run(
        [sys.executable, "-c", before + TOLD], env=surroundings, capture_output=True, text=True, check=True,
        cwd=package.parent, preexec_fn=limit,  # a limit of this one child
    )  # fmt: skip
    assert done.stderr == ""
    facts, note = done.stdout.split(" | ")
    answer, folder, is_lasting = facts.split()
    return int(answer), folder, is_lasting == "True", note.strip()


def block(package: Path) -> None:
    """Let the program's own folder take no files, even from those whom no permission stops."""
    shutil.rmtree(package / "__pycache__", ignore_errors=True)
    (package / "__pycache__").write_text("")


def test_an_edit_in_a_called_file_is_noticed_and_the_old_code_found_again(copy: Path) -> None:
    answer, first, is_lasting, note = run(copy)
    assert (answer, is_lasting, note) == (6, True, "")
    assert Path(first).parent == copy / "__pycache__"
    n_kept = len(list(Path(first).rglob("*.nbc")))
    assert n_kept == 2
    (copy / "fitting" / "called.py").write_text(CALLED.format(5))
    answer, second, *_ = run(copy)
    assert answer == 10
    assert second != first
    (copy / "fitting" / "called.py").write_text(CALLED.format(3))
    assert run(copy)[:2] == (6, first)
    assert len(list(Path(first).rglob("*.nbc"))) == n_kept


def test_the_variable_says_where(copy: Path, tmp_path: Path) -> None:
    answer, folder, is_lasting, note = run(copy, **{compiled.VARIABLE: str(tmp_path / "mine")})
    assert (answer, is_lasting, note) == (6, True, "")
    assert Path(folder).parent == tmp_path / "mine"
    assert list(Path(folder).rglob("*.nbc"))


def test_where_the_program_is_read_only_a_private_temporary_folder_serves(copy: Path, tmp_path: Path) -> None:
    block(copy)
    (tmp_path / "temporary").mkdir()
    answer, folder, is_lasting, note = run(copy, TMPDIR=str(tmp_path / "temporary"))
    assert (answer, is_lasting) == (6, False)
    private = Path(folder).parent
    assert private.parent == tmp_path / "temporary"
    assert private.stat().st_mode & 0o777 == 0o700
    assert compiled.VARIABLE in note
    assert folder in note
    assert run(copy, TMPDIR=str(tmp_path / "temporary"))[1] == folder


@pytest.mark.parametrize("is_file", [True, False])
def test_where_nothing_can_be_kept_it_still_compiles_and_says_so(copy: Path, tmp_path: Path, is_file: bool) -> None:
    block(copy)
    private = tmp_path / f"test-age-planner-{os.getuid()}"
    if is_file:
        private.write_text("")
    else:  # a folder that others may fill could hold their code
        private.mkdir()
        private.chmod(0o777)
    answer, folder, is_lasting, note = run(copy, TMPDIR=str(tmp_path))
    assert (answer, folder, is_lasting) == (6, "None", False)
    assert "every run compiles anew" in note
    assert compiled.VARIABLE in note


def test_where_there_is_no_temporary_folder_either_it_still_compiles_and_says_so(copy: Path) -> None:
    block(copy)
    answer, folder, is_lasting, note = run(copy, before=NO_TEMPORARY_FOLDER)
    assert (answer, folder, is_lasting) == (6, "None", False)
    assert "every run compiles anew" in note


def test_on_a_full_disk_it_compiles_without_keeping_and_what_is_kept_is_used(copy: Path) -> None:
    assert run(copy, limit_bytes=1_000)[0] == 6
    folder = Path(run(copy)[1])
    kept = {path: path.stat().st_mtime_ns for path in folder.rglob("*.nbc")}
    assert len(kept) == 2
    assert run(copy, limit_bytes=1_000)[:2] == (6, str(folder))
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*.nb?")}.items() >= kept.items()


def test_what_was_not_used_for_a_month_is_removed_and_nothing_else(copy: Path) -> None:
    base = copy / "__pycache__"
    old, recent, other = base / f"compiled-{'0' * 16}", base / f"compiled-{'1' * 16}", base / "compiled-by-me"
    for folder, days in ((old, 31), (recent, 29), (other, 400)):
        folder.mkdir(parents=True)
        (folder / "held").write_text("")
        os.utime(folder, (time.time() - days * 86_400, time.time() - days * 86_400))
    run(copy)
    assert not old.exists()
    assert (recent / "held").exists()
    assert (other / "held").exists()


def modules_with_loops() -> list[Path]:
    found = [path for path in compiled.PACKAGE.rglob("*.py") if TAKES_LOOPS.search(path.read_text())]
    assert len(found) > 10
    return found


def is_hashed(module: str) -> bool:
    return any(module.startswith(f"planner.{room.replace('/', '.')}") for room in compiled.ROOMS)


@pytest.mark.parametrize("path", modules_with_loops(), ids=lambda path: path.stem)
def test_all_that_a_loop_may_hold_stands_in_the_rooms_that_name_the_folder(path: Path) -> None:
    module = "planner." + ".".join(path.relative_to(compiled.PACKAGE).with_suffix("").parts)
    assert is_hashed(module)
    tree = ast.parse(path.read_text())
    home = {
        alias.asname or alias.name: node.module if node.level == 0 else f"{module.rsplit('.', node.level)[0]}.x"
        for node in tree.body
        if isinstance(node, ast.ImportFrom) and (node.level or (node.module or "").startswith("planner"))
        for alias in node.names
    }
    loops = [one for one in tree.body if isinstance(one, ast.FunctionDef) and one.decorator_list]
    for loop in loops:
        if any("njit" in ast.unparse(decorator) for decorator in loop.decorator_list):
            used = {node.id for line in loop.body for node in ast.walk(line) if isinstance(node, ast.Name)}
            assert all(is_hashed(home[name] or "") for name in used & set(home)), loop.name
