"""``test-ages start``: a starter plan with its tables, ready to run."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import argument, flag

MaybeFolder = Annotated[Path | None, argument("FOLDER", "Where to put them; made if it is not there.")]
Full = Annotated[bool, flag("--full", "Show every key there is, those that the plan does not use behind a #.")]
Schema = Annotated[bool, flag("--schema", "Print the JSON Schema that editors complete and check plans with.")]


def start(folder: MaybeFolder = None, is_full: Full = False, has_schema: Schema = False) -> None:
    """Put a starter plan with its tables into FOLDER; nothing there is overwritten."""
    from planner.starter import PLAN, put_starter, schema_text

    if has_schema:
        sys.stdout.write(schema_text())
        return
    if folder is None:
        raise typer.TyperException("Missing argument 'FOLDER'. Name a folder, or ask for --schema.")
    for path in put_starter(folder, is_full=is_full):
        typer.echo(path)
    print(f'Next: test-ages recommend "{folder / PLAN}"', file=sys.stderr)
