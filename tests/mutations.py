"""Would the tests notice? Makes single wrong edits in a copy of the tree and runs the tests that should.

    python -m tests.mutations planner/verdict/rule.py planner/verdict/bounds.py --most 20
    python -m tests.mutations planner/report --most 30 --seed 2
    python -m tests.mutations --changed main --most 40      # only lines that differ from this revision
    python -m tests.mutations planner/verdict --list        # what it could edit; runs nothing

Every edit is one slip that a hand makes: a sign, a factor of 2, one too many, n for n - 1, the wrong axis, a root
left out, a comparison turned round, neighbours swapped, the other tail of a quantile, least for most, a condition
inverted. `--most` of them are taken, evenly over the kinds, the same ones for the same `--seed`.

For an edit in `planner/ROOM/...` the tests in `tests/ROOM` and `tests/oracle` run, and for `planner/*.py` those in
`tests/laws` and `tests/oracle`: files with the module's name, those that import it, then the others, of equals the
quickest first; up to the first that fails. `--tests` names others. Tests marked slow are left out unless `--slow`.
The tests must pass on the unedited copy, else nothing is tried. Printed is every edit with its place, what it was and
whether it was caught, and the survivors once more at the end. A survivor is either a hole in the tests or an edit
that changes nothing that can be seen (`<=` for `<` where equal values cannot happen): look at each.

The working tree is never written to: the copy lies in a temporary folder, which is removed, with all that is compiled
for it. What the tree has compiled is taken along, the rest is compiled by the first run. The program keeps compiled
code in a folder named by the content of all compiled rooms (`planner/compiled.py`): after an edit in one of them what
was compiled of the untouched modules is laid into the new folder, and only the edited one and those that call it are
compiled anew.
Exit code 0 when at least `--least` of the edits were caught, else 1; 2 when nothing was tried.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

from numba.core.caching import _CacheLocator

from planner.compiled import ROOMS, VARIABLE
from tests.wrong_edits import Edit, edits_of

TREE = Path(__file__).parents[1]
TESTS_NOT_MIRRORED = ("tests/laws", "tests/oracle")  # of the modules above the rooms
COPIED = ("planner", "tests", "scenarios", "pyproject.toml", "README.md", "DEVELOPERS.md", ".ci", ".gitignore")
WHERE_KEPT = "from planner.compiled import kept; print(kept().folder)"
# Exit codes of pytest
ALL_PASSED, WRONG_USE, NOTHING_COLLECTED = 0, 4, 5


def main(arguments: Sequence[str] | None = None, tree: Path = TREE) -> int:
    """Try the edits that were asked for and print what became of each."""
    asked = _parser().parse_args(arguments)
    lines = changed_lines(tree, asked.changed) if asked.changed else None
    files = sorted({file for name in asked.files or ["planner"] for file in python_files(tree, name)})
    edits = [
        edit
        for file in files
        for edit in edits_of(file.relative_to(tree), file.read_text(encoding="utf-8"))
        if lines is None or edit.line in lines.get(edit.file.as_posix(), ())
    ]
    taken = spread(edits, most=asked.most, seed=asked.seed)
    print(f"{len(taken)} of {len(edits)} possible edits in {len({edit.file for edit in edits})} files")
    if asked.list or not taken:
        print("\n".join(str(edit) for edit in taken))
        return 0 if taken else 2
    return _try_all(taken, tree, asked)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("files", nargs="*", help="files or folders under planner/; all where none is given")
    parser.add_argument("--changed", metavar="REV", help="only lines that differ from this revision")
    parser.add_argument("--most", type=int, default=20, help="edits that are tried (20)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="+", metavar="PATH", help="run these instead of the mapped tests")
    parser.add_argument("--slow", action="store_true", help="with the tests marked slow")
    parser.add_argument("--workers", type=int, default=1, help="edits tried at a time, each in its own copy")
    parser.add_argument(
        "--timeout", type=float, default=900.0, help="seconds for one edit; out of time counts as caught"
    )
    parser.add_argument("--least", type=float, default=0.9, help="share to be caught for exit code 0 (0.9)")
    parser.add_argument("--list", action="store_true", help="print the edits, run nothing")
    parser.set_defaults(seconds={})  # of every test file, once it ran
    return parser


def python_files(tree: Path, name: str) -> list[Path]:
    """Modules at or under a path of the tree."""
    path = (tree / name).resolve()
    found = [path] if path.is_file() else sorted(path.rglob("*.py"))
    if not found:
        raise SystemExit(f"There is no module at {name}. Give files or folders such as planner/verdict.")
    return [file for file in found if file.name != "__init__.py"]


def changed_lines(tree: Path, revision: str) -> dict[str, set[int]]:
    """Lines of the working tree that the revision does not have, for every file."""
    ran = subprocess.run(
        ["git", "diff", "-U0", "-M", "--no-color", revision, "--", "planner"],
        cwd=tree, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    lines: dict[str, set[int]] = {}
    file = ""
    for row in ran.splitlines():
        if row.startswith("+++ "):
            file = row[4:].removeprefix("b/")
        elif found := re.match(r"@@ -\S+ \+(\d+)(?:,(\d+))? @@", row):
            first, count = int(found[1]), int(found[2] or 1)
            lines.setdefault(file, set()).update(range(first, first + count))
    return lines


def spread(edits: Sequence[Edit], *, most: int, seed: int) -> list[Edit]:
    """Take edits evenly over their kinds, by chance inside each; in the order of files and lines."""
    chance = random.Random(seed)
    kinds: dict[str, list[Edit]] = {}
    for edit in edits:
        kinds.setdefault(edit.kind, []).append(edit)
    for kind in sorted(kinds):
        chance.shuffle(kinds[kind])
    taken: list[Edit] = []
    while len(taken) < most and any(kinds.values()):
        for kind in sorted(kinds):
            if kinds[kind] and len(taken) < most:
                taken.append(kinds[kind].pop())
    return sorted(taken, key=lambda edit: (edit.file, edit.line, edit.start))


def mapped_tests(tree: Path, file: Path, seconds: Mapping[str, float] | None = None) -> list[str]:
    """Tests that should notice an edit in a module, the likeliest first, of these the quickest."""
    rooms = file.parts[1:-1]
    folders = [f"tests/{rooms[0]}", "tests/oracle"] if rooms else list(TESTS_NOT_MIRRORED)
    folders = [folder for folder in folders if (tree / folder).is_dir()]
    tests = [test for folder in folders for test in sorted((tree / folder).rglob("test_*.py"))]
    imported = re.compile(rf"^(from|import)\b.*\b{re.escape(file.stem)}\b", re.MULTILINE)

    def place(test: Path) -> tuple[int, float]:
        took = (seconds or {}).get(test.relative_to(tree).as_posix(), 0.0)
        if test.stem.startswith(f"test_{file.stem}"):
            return 0, took
        return (1 if imported.search(test.read_text(encoding="utf-8")) else 2), took

    return [test.relative_to(tree).as_posix() for test in sorted(tests, key=place)]


def seconds_of(printed: str) -> dict[str, float]:
    """How long each test file took, from what pytest prints for ``--durations=0``."""
    seconds: dict[str, float] = {}
    for time, file in re.findall(r"^([\d.]+)s +(?:call|setup|teardown) +([^:\s]+)::", printed, re.MULTILINE):
        seconds[file] = seconds.get(file, 0.0) + float(time)
    return seconds


def _try_all(taken: Sequence[Edit], tree: Path, asked: argparse.Namespace) -> int:
    with tempfile.TemporaryDirectory(prefix="wrong-edits-") as folder:
        copies: SimpleQueue[Copy] = SimpleQueue()
        for number in range(asked.workers):
            copies.put(Copy(tree, Path(folder) / f"copy{number}", asked))
        first = copies.get()
        tests = list(dict.fromkeys(test for edit in taken for test in first.tests_for(edit)))
        code, found = first.run(tests, timeout=None)
        asked.seconds = seconds_of(found)
        copies.put(first)
        if code != ALL_PASSED:
            print(found[-4000:])
            print("The tests do not pass on the unedited copy; nothing was tried.")
            return 2

        def tried(edit: Edit) -> tuple[Edit, str]:
            copy = copies.get()
            try:
                outcome = copy.outcome(edit)
            finally:
                copies.put(copy)
            print(f"{outcome:9} {edit}", flush=True)
            return edit, outcome

        with ThreadPoolExecutor(asked.workers) as workers:
            outcomes = list(workers.map(tried, taken))
    survivors = [edit for edit, outcome in outcomes if outcome == "survived"]
    caught = len(taken) - len(survivors)
    print(f"\n{caught} of {len(taken)} caught ({caught / len(taken):.0%})")
    if survivors:
        print("survived:\n" + "\n".join(f"  {edit}" for edit in survivors))
    return 0 if caught >= asked.least * len(taken) else 1


def _where_kept(tree: Path, surroundings: Mapping[str, str]) -> Path:
    ran = subprocess.run(
        [sys.executable, "-c", WHERE_KEPT], cwd=tree, env=surroundings, check=True, capture_output=True, text=True
    )
    return Path(ran.stdout.strip())


class Copy:
    """A copy of the tree in which edits are made and taken back."""

    def __init__(self, tree: Path, folder: Path, asked: argparse.Namespace) -> None:
        folder.mkdir()
        for name in COPIED:
            source = tree / name
            if source.is_dir():
                shutil.copytree(source, folder / name, symlinks=True, ignore=shutil.ignore_patterns("__pycache__"))
            elif source.exists():
                shutil.copy2(source, folder / name)
        self._folder, self._asked = folder, asked
        # Python's own cache tells two edits of one length within a second by nothing, so none is kept.
        self._surroundings = os.environ | {
            "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1", VARIABLE: str(folder / "compiled"),
        }  # fmt: skip
        if (tree / "planner" / "compiled.py").exists():
            self._take_compiled(tree)

    def tests_for(self, edit: Edit) -> list[str]:
        return self._asked.tests or mapped_tests(self._folder, edit.file, self._asked.seconds)

    def outcome(self, edit: Edit) -> str:
        """Make the edit, run its tests, take the edit back."""
        file = self._folder / edit.file
        before, times = file.read_bytes(), file.stat()
        is_compiled = any(edit.file.is_relative_to(Path("planner") / room) for room in ROOMS)
        kept = self._kept() if is_compiled else None
        file.write_bytes(edit.applied(before))
        anew = self._lay_kept(kept, file) if kept else None
        try:
            code, _ = self.run(self.tests_for(edit), timeout=self._asked.timeout)
        except subprocess.TimeoutExpired:
            return "timed out"
        finally:
            file.write_bytes(before)
            os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))  # by which numba knows the unedited file
            if anew:
                shutil.rmtree(anew)
        if code in (WRONG_USE, NOTHING_COLLECTED):
            raise SystemExit(f"No test was found for {edit.file}. Name some with --tests.")
        return "survived" if code == ALL_PASSED else "caught"

    def _kept(self) -> Path:
        """Where the copy, as it stands, keeps its compiled code."""
        return _where_kept(self._folder, self._surroundings)

    def _take_compiled(self, tree: Path) -> None:
        """Take what is compiled of the tree, so that the first run need not compile it again.

        numba keeps the loops of one folder in a folder named by its path, and knows a file by its time and size.
        """
        there = _where_kept(tree, os.environ | {"PYTHONPATH": str(tree)})
        here = self._kept()
        for room in {file.parent for file in tree.glob("planner/**/*.py")}:
            source, aim = (
                kept / _CacheLocator.get_suitable_cache_subpath(str(folder / "any.py"))  # type: ignore[no-untyped-call]
                for kept, folder in ((there, room), (here, self._folder / room.relative_to(tree)))
            )
            if source.is_dir():
                shutil.copytree(source, aim, dirs_exist_ok=True)

    def _lay_kept(self, kept: Path, file: Path) -> Path | None:
        """Give the edited copy what was compiled of other modules: neither this one nor any that calls it."""
        anew = self._kept()
        if anew == kept:  # the words of a docstring at most
            return None
        modules, found = {file}, 0
        sources = {path: path.read_text(encoding="utf-8") for path in self._folder.glob("planner/**/*.py")}
        while len(modules) > found:
            found = len(modules)
            names = "|".join(re.escape(module.stem) for module in modules)
            imported = re.compile(rf"^(from|import)\b.*\b({names})\b", re.MULTILINE)
            modules |= {path for path, text in sources.items() if "njit" in text and imported.search(text)}
        patterns = [f"{module.stem}.*" for module in modules]
        shutil.copytree(kept, anew, dirs_exist_ok=True, ignore=shutil.ignore_patterns(*patterns))
        return anew

    def run(self, tests: Sequence[str], *, timeout: float | None) -> tuple[int, str]:
        """Run tests in the copy up to the first that fails: pytest's exit code and what it said."""
        if not tests:
            raise SystemExit("No tests mirror these files. Name some with --tests.")
        chosen = [] if self._asked.slow else ["-m", "not slow"]
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-x",
            "-q",
            "-p",
            "no:cacheprovider",
            "--durations=0",
            *chosen,
            *tests,
        ]
        with subprocess.Popen(
            command, cwd=self._folder, env=self._surroundings, text=True, start_new_session=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        ) as process:  # fmt: skip
            try:
                found, _ = process.communicate(timeout=timeout)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)  # with whatever the tests had started
                raise
        return process.returncode, found


if __name__ == "__main__":
    sys.exit(main())
