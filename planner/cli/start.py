"""``test-ages start``: a starter plan with its tables, ready to run."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from .options import argument

Folder = Annotated[Path, argument("FOLDER", "Where to put them; made if it is not there.")]


def start(folder: Folder) -> None:
    """Put a starter plan with its tables into FOLDER; nothing there is overwritten."""
    from planner.report.documents.folder import check_folder, write_files
    from planner.starter import starter_files
    from planner.terms.problems import InputError, Problem

    files = starter_files()
    taken = [name for name in files if (folder / name).exists()]
    if taken:
        text = "It is there already and is not overwritten. Choose another folder or move it away."
        raise InputError(Problem(file=str(folder / name), text=text) for name in taken)
    check_folder(folder)
    for path in write_files(folder, files):
        typer.echo(path)
    print(f'Next: test-ages recommend "{folder / "plan.toml"}"', file=sys.stderr)
