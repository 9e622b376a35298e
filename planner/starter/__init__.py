"""The starter: a plan with its tables, ready to run."""

from __future__ import annotations

from pathlib import Path

STARTER = Path(__file__).parent


def starter_files() -> dict[str, bytes]:
    """The files of the starter, name and content."""
    return {path.name: path.read_bytes() for path in sorted(STARTER.iterdir()) if path.suffix in (".toml", ".csv")}
