"""A small invented study, written to files of several shapes."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl

from planner.read import check_plan
from planner.terms.problems import Problem

Rows = list[list[Any]]

BREAK_HEADINGS = ["batch", "mix", "specimen", "geometry", "curing", "age_h", "strength_mpa"]
STRENGTHS = {12: (10.0, 10.2), 24: (20.0, 20.4), 72: (30.0, 30.2), 672: (50.0, 50.6)}
TEMPERATURE_HEADINGS = ["batch", "curing", "elapsed_h", "temperature_c"]

PLAN = {
    "prior": 'breaks = "breaks.csv"',
    "target": 'ages = ["12 h"]\ntolerance = "10 %"',
    "choices": 'ages = ["12 h", "1 d", "3 d", "28 d"]\nfewest_ages = 3\nmost_ages = 4\nspecimens_per_age = [2, 4]',
    "budget": "specimens = 12",
}


def break_rows() -> Rows:
    """Two batches, four ages, two companions; headings first."""
    rows: Rows = [list(BREAK_HEADINGS)]
    for batch in ("B1", "B2"):
        for age, strengths in STRENGTHS.items():
            for number, strength in enumerate(strengths, 1):
                mpa = round(strength + 0.1 * (batch == "B2" and number == 2), 2)  # no batch is another one's copy
                rows.append([batch, "M1", f"{batch}-{age}-{number}", "cylinder 150x300 mm", "standard", age, mpa])
    return rows


def temperature_rows(*, last_h: int = 672, step_h: int = 4) -> Rows:
    """One record a batch, every few hours."""
    rows: Rows = [list(TEMPERATURE_HEADINGS)]
    for batch in ("B1", "B2"):
        rows += [[batch, "standard", hour, 20.5] for hour in range(0, last_h + 1, step_h)]
    return rows


def csv_bytes(rows: Sequence[Sequence[Any]], *, delimiter: str = ",", newline: str = "\n") -> bytes:
    """Write rows as delimited text."""
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter, lineterminator=newline).writerows(rows)
    return stream.getvalue().encode()


def xlsx_bytes(rows: Sequence[Sequence[Any]], *, sheet: str = "Breaks", before: Sequence[str] = ()) -> bytes:
    """Write rows as a workbook, after sheets that hold something else."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name in before:
        book.create_sheet(name).append(["notes", "made by hand"])
    page = book.create_sheet(sheet)
    for row in rows:
        page.append(list(row))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def plan_text(**changes: str | None) -> str:
    """Write a plan; a table given as None is left out, others replace or add."""
    tables = {**PLAN, **changes}
    return "\n".join(f"[{name}]\n{text}" for name, text in tables.items() if text is not None) + "\n"


def write_study(
    folder: Path,
    *,
    breaks: bytes | Rows | None = None,
    temperatures: bytes | Rows | None = None,
    break_file: str = "breaks.csv",
    plan: str | None = None,
    prior: str = "",
) -> Path:
    """Write a study and give the path of its plan."""

    def content(given: bytes | Rows | None, name: str) -> bytes:
        rows = break_rows() if given is None else given
        if isinstance(rows, bytes):
            return rows
        return xlsx_bytes(rows) if name.endswith(".xlsx") else csv_bytes(rows)

    (folder / break_file).write_bytes(content(breaks, break_file))
    lines = [f'breaks = "{break_file}"', prior]
    if temperatures is not None:
        (folder / "temperatures.csv").write_bytes(content(temperatures, "temperatures.csv"))
        lines.append('temperatures = "temperatures.csv"')
    path = folder / "plan.toml"
    path.write_text(plan_text(prior="\n".join(lines)) if plan is None else plan, encoding="utf-8")
    return path


def problems_of(path: Path) -> tuple[Problem, ...]:
    """Read a plan that is expected to be refused."""
    plan, problems = check_plan(path)
    assert plan is None
    assert problems
    return problems


def only_problem(path: Path) -> Problem:
    """Read a plan that is expected to be refused for one reason."""
    problems = problems_of(path)
    assert len(problems) == 1, [str(problem) for problem in problems]
    return problems[0]


CHOICES_LATE = 'ages = ["1 d", "2 d", "3 d"]\nfewest_ages = 2\nmost_ages = 3\nspecimens_per_age = [1, 4]'
