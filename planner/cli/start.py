"""``test-ages start``: a starter plan with its tables, ready to run."""

from __future__ import annotations

import sys
from pathlib import Path

import click

STARTER = Path(__file__).parent / "starter"


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def start(folder: Path) -> None:
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
        click.echo(path)
    plan = next((name for name in files if name.endswith(".toml")), "plan.toml")
    print(f'Next: test-ages recommend "{folder / plan}"', file=sys.stderr)
