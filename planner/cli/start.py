"""``test-ages start``: a starter plan with its tables, ready to run."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from .options import argument

STARTER = Path(__file__).parent / "starter"


Folder = Annotated[Path, argument("FOLDER", "Where to put them; made if it is not there.")]


def start(folder: Folder) -> None:
    """Put a starter plan with its tables into FOLDER; nothing there is overwritten."""
    from planner.report.documents.folder import check_folder, write_files

    from ..terms.problems import InputError, Problem

    files = {
        path.name: path.read_bytes() for path in sorted(STARTER.iterdir()) if path.suffix in (".toml", ".csv", ".md")
    }
    taken = [name for name in files if (folder / name).exists()]
    if taken:
        text = "It is there already and is not overwritten. Choose another folder or move it away."
        raise InputError(Problem(file=str(folder / name), text=text) for name in taken)
    check_folder(folder)
    for path in write_files(folder, files):
        typer.echo(path)
    plan = next((name for name in files if name.endswith(".toml")), "plan.toml")
    print(f'Next: test-ages recommend "{folder / plan}"', file=sys.stderr)
