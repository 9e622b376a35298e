"""The starter: a plan with its tables, ready to run, and what an editor needs to help with it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

STARTER = Path(__file__).parent
PLAN = "plan.toml"


def starter_files(*, is_full: bool = False) -> dict[str, bytes]:
    """The files of the starter, name and content.

    Parameters
    ----------
    is_full
        The plan shows every key there is, those that it does not use behind a #.
    """
    from planner.starter.plan_text import SCHEMA_FILE, plan_text

    files = {path.name: path.read_bytes() for path in sorted(STARTER.iterdir()) if path.suffix in (".toml", ".csv")}
    if is_full:
        values = tomllib.loads(files[PLAN].decode("utf-8"))
        files[PLAN] = plan_text(values, introduction=introduction(), is_full=True).encode("utf-8")
    return files | {SCHEMA_FILE: schema_text().encode("utf-8")}


def put_starter(folder: str | Path, *, is_full: bool = False) -> tuple[Path, ...]:
    """Write the starter into a folder; nothing there is overwritten.

    Raises
    ------
    InputError
        Where a file of the same name is there, or the folder cannot be written.
    """
    from planner.report.documents.folder import check_folder, write_files
    from planner.terms.problems import InputError, Problem

    folder = Path(folder)
    files = starter_files(is_full=is_full)
    taken = [name for name in files if (folder / name).exists()]
    if taken:
        text = "It is there already and is not overwritten. Choose another folder or move it away."
        raise InputError(Problem(file=str(folder / name), text=text) for name in taken)
    check_folder(folder)
    return write_files(folder, files)


def schema_text() -> str:
    """The JSON Schema of a plan as text."""
    from planner.starter.plan_schema import plan_schema

    return json.dumps(plan_schema(), indent=2, ensure_ascii=False) + "\n"


def introduction() -> str:
    """The comment at the top of the starter's plan."""
    lines = (STARTER / PLAN).read_text(encoding="utf-8").splitlines()
    comment = [line for line in lines[: lines.index("")] if line.startswith("#") and not line.startswith("#:")]
    return "\n".join(comment)
