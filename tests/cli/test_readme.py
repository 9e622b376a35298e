"""The README: short, and what it says to type works. Searches are answered by a stand-in."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path

import matplotlib as mpl
import pytest

from planner.cli import main as program
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]
ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
MOST_WORDS = 900


def blocks() -> list[str]:
    """Indented blocks of code, without their indent."""
    found = re.findall(r"(?:^ {4}.*\n(?:\n(?= {4}))?)+", README, re.MULTILINE)
    return [re.sub(r"(?m)^ {4}", "", block) for block in found]


def typed() -> Iterator[str]:
    """Every line of a block and every text between backticks that is a command of the program."""
    for line in "\n".join(blocks()).splitlines():
        yield from (part.strip() for part in line.partition("#")[0].split("&&"))
    for text in re.findall(r"`([^`]+)`", README):
        first = text.split()[0]
        yield (
            text if first in ("test-ages", "pip", "pytest", "python") else f"test-ages {text}" if first in NAMES else ""
        )


NAMES = {command.__name__ for command, _ in program.COMMANDS}
COMMANDS = sorted({text for text in typed() if text.startswith("test-ages ")})


def test_it_is_short() -> None:
    words = [word for word in README.split() if re.search(r"[A-Za-z0-9]", word)]
    assert len(words) <= MOST_WORDS


def test_every_command_of_the_program_is_there() -> None:
    assert {text.split()[1] for text in COMMANDS} >= NAMES


@pytest.mark.parametrize("text", COMMANDS)
def test_every_command_and_option_is_known(text: str) -> None:
    name, *given = shlex.split(text)[1:]
    known = program.test_ages if name.startswith("-") else program.test_ages.commands[name]  # type: ignore[attr-defined]
    options = {spelling for item in known.params for spelling in item.opts}
    assert [part for part in (name, *given) if part.startswith("-") and part not in options] == []


def test_one_starts_checks_and_asks_as_it_says(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    block = next(block for block in blocks() if block.startswith("test-ages start"))
    lines = [line.partition("#")[0].strip() for line in block.splitlines()]
    for line in filter(None, lines):
        done = run(*shlex.split(line)[1:])
        assert done.code == 0, done.err
    assert {"report.html", "workbook.xlsx", "recommendation.json", "choices.csv"} <= {
        path.name for path in (tmp_path / "answer").iterdir()
    }


def test_the_lines_of_python_run(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    mpl.use("Agg")
    run("start", "my-plan")
    block = next(block for block in blocks() if block.startswith("from planner"))
    found: dict[str, object] = {
        "age_h": [6.0, 12.0, 24.0, 672.0],
        "strength_mpa": [5.0, 14.0, 24.0, 40.0],
        "elapsed_h": [0.0, 12.0, 24.0],
        "temperature_c": [20.0, 25.0, 22.0],
    }
    exec(compile(block, "README.md", "exec"), found)
    assert found["advice"].choices["rms"].notna().all()  # type: ignore[attr-defined]
    assert len(found["curve"].strength([0.0, 24.0], [20.0, 20.0])) == 2  # type: ignore[attr-defined]


def test_what_it_points_at_is_there() -> None:
    links = re.findall(r"\]\(([^)]+)\)", README)
    folders = re.findall(r"`(?:pytest )?((?:scenarios|tests)/[\w/.-]+)", README)
    assert [name for name in (*links, *folders) if not (ROOT / name).exists()] == []
    modules = re.findall(r"`python -m ([\w.]+)", README)
    assert modules
    assert [name for name in modules if find_spec(name) is None] == []
