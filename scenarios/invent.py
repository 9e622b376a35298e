"""Invent the demo programmes: ``python scenarios/invent.py`` rewrites every table, always the same.

The laws and the seed were fixed before the planner ran on the tables and are not adjusted to its results.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
if not __package__:  # started as a file: its package is not on the path yet
    sys.path.insert(0, str(ROOT))

from scenarios.catalogue import RUNWAY_PANELS, SEED, SLEEPERS, STARTER_SLAB, TUNNEL_SEGMENTS  # noqa: E402
from scenarios.geometries import SLEEPER_GEOMETRIES, other_rows  # noqa: E402
from scenarios.writing import write_breaks, write_programme, write_sparse  # noqa: E402


def invent(root: Path, *, seed: int = SEED) -> None:
    """Write the tables of every scenario below `root`, laid out as in the repository."""
    write_programme(root / "scenarios" / "runway-panels", RUNWAY_PANELS, seed, has_oddities=True)
    segments = root / "scenarios" / "tunnel-segments"
    write_sparse(segments, write_programme(segments, TUNNEL_SEGMENTS, seed))
    sleepers = root / "scenarios" / "sleepers"
    programme = write_programme(sleepers, SLEEPERS, seed)
    write_breaks(sleepers / "breaks.csv", (*programme.breaks, *other_rows(programme, SLEEPER_GEOMETRIES)))
    write_programme(root / "planner" / "starter", STARTER_SLAB, seed)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line and invent."""
    parser = argparse.ArgumentParser(description="Rewrite the invented break and temperature tables.")
    parser.add_argument("--seed", type=int, default=SEED, help=f"default {SEED}, the one of the repository")
    parser.add_argument("--out", type=Path, default=ROOT, help="root of the repository, or another folder")
    given = parser.parse_args(arguments)
    invent(given.out, seed=given.seed)


if __name__ == "__main__":
    main()
