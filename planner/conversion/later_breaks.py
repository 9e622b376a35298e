"""Breaks made after the plan, every strength as a curve of the target's geometry reads it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from planner.conversion.conversion_cautions import of_both_geometries
from planner.terms.problems import InputError, Problem
from planner.terms.records import Break, GivenRecords
from planner.terms.results.after_casting.curve_conversion import CurveConversion


def in_target_geometry(given: GivenRecords, conversion: CurveConversion | None) -> GivenRecords:
    """Convert the breaks of a trial batch or of pours; those of the target's geometry stay as they are.

    None converts nothing.

    The latter serve as site-cured companions alone: a curve is fitted to one geometry. Where both lie in one place the
    measured ones tell.

    Raises
    ------
    InputError
        Where a break is of neither geometry, or its geometry is not stated, with every offender.
    """
    if conversion is None:
        return given
    problems = list(_faults(given, conversion))
    if problems:
        raise InputError(problems)
    found = {_place(item) for item in given.records.breaks if _is_companion(item, conversion.to_geometry)}
    kept: list[Break] = []
    unused: list[Break] = []
    for item in given.records.breaks:
        if item.geometry == conversion.from_geometry and not (item.curing == "site" and _place(item) in found):
            kept.append(replace(item, strength_mpa=conversion.convert(item.strength_mpa)))
        elif _is_companion(item, conversion.to_geometry):
            kept.append(item)
        else:
            unused.append(item)
    cautions = (*given.records.cautions, *of_both_geometries(len(unused), conversion, given.file))
    return replace(given, records=replace(given.records, breaks=tuple(kept), cautions=cautions))


def are_converted(breaks: tuple[Break, ...], conversion: CurveConversion | None) -> bool:
    """Whether site-cured companions are of the geometry that is converted, as the curve's own breaks are."""
    return conversion is not None and any(
        item.curing == "site" and item.geometry == conversion.from_geometry for item in breaks
    )


def _is_companion(item: Break, geometry: str) -> bool:
    return item.curing == "site" and item.geometry == geometry


def _place(item: Break) -> tuple[str, str, float]:
    return item.batch, item.placement, item.age_h


def _faults(given: GivenRecords, conversion: CurveConversion) -> Iterator[Problem]:
    known = (conversion.from_geometry, conversion.to_geometry)
    for item in given.records.breaks:
        if item.geometry not in known:
            shown = f"is of {item.geometry}" if item.geometry else "does not say its geometry"
            yield Problem(
                given.file,
                f'The break of "{item.batch}" {shown}. The curve is of {known[0]}, read as {known[1]}: write one of '
                "the two in the column geometry, or leave the break out.",
                row=item.row,
                column="geometry",
            )
