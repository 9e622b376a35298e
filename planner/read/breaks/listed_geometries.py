"""Breaks of the geometries that a plan lists, each under the name that the plan gives it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.read.parsing.findings import Findings
from planner.terms.labels import listed
from planner.terms.plan.geometry import nominal_geometry
from planner.terms.records import Break


def of_listed(
    file: str, breaks: Sequence[Break], geometries: tuple[str, ...], findings: Findings, *, is_later: bool
) -> tuple[Break, ...]:
    """Keep the breaks of the listed geometries, by their nominal sizes; breaks of no stated geometry are refused.

    Parameters
    ----------
    geometries
        By their nominal sizes.
    is_later
        Breaks that come after the plan need not be of all of them.
    """
    unstated = [item for item in breaks if not item.geometry]
    findings.rows(
        file,
        "geometry",
        (
            (
                item.row or 0,
                f"The geometry is not stated, and the plan lists {listed(geometries)}. Name it for every break.",
            )
            for item in unstated
        ),
    )
    named = [replace(item, geometry=_nominal(item.geometry)) for item in breaks if item.geometry]
    kept = tuple(item for item in named if item.geometry in geometries)
    others = dict.fromkeys(item.geometry for item in named if item.geometry not in geometries)
    if others:
        findings.caution(
            "geometry-selected",
            f"{len(named) - len(kept)} of {len(breaks)} breaks are of geometries that the plan does not list "
            f"({listed(others)}) and are not used.",
        )
    absent = [geometry for geometry in geometries if all(item.geometry != geometry for item in kept)]
    if absent and not unstated and not is_later:
        found = listed(dict.fromkeys(item.geometry for item in named))
        findings.caution(
            "geometry-without-breaks",
            f"No break is of the geometry {listed(absent)}. There are: {found}. A geometry without breaks is not "
            "searched; where it is the specification's, only a stated factor leads to it.",
        )
    return kept


def by_geometry(breaks: Sequence[Break]) -> list[list[Break]]:
    """Breaks of one geometry together, in the order in which geometries first come."""
    shapes = dict.fromkeys(item.geometry for item in breaks)
    return [[item for item in breaks if item.geometry == shape] for shape in shapes]


def _nominal(geometry: str) -> str:
    try:
        return nominal_geometry(geometry)
    except ValueError:
        return geometry
