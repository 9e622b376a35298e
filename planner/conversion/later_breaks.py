"""Breaks made after the plan, every strength as a curve of the target's geometry reads it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace

from planner.conversion.conversion_cautions import of_both_geometries
from planner.terms.labels import counted
from planner.terms.problems import InputError, Problem
from planner.terms.records import Break, GivenRecords
from planner.terms.results.after_casting.curve_conversion import CurveConversion

MOST_ROWS = 9  # that one message names


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
    """One for each batch and geometry: as a rule a whole file is of the wrong one."""
    known = (conversion.from_geometry, conversion.to_geometry)
    found: dict[tuple[str, str], list[Break]] = defaultdict(list)
    for item in given.records.breaks:
        if item.geometry not in known:
            found[item.batch, item.geometry].append(item)
    for (batch, geometry), items in found.items():
        is_one = len(items) == 1
        shown = f"{'is' if is_one else 'are'} of {geometry}"
        if not geometry:
            shown = "does not say its geometry" if is_one else "do not say their geometry"
        rows = ", ".join(str(item.row) for item in items[1:MOST_ROWS])
        more = f" and {len(items) - MOST_ROWS} more" if len(items) > MOST_ROWS else ""
        yield Problem(
            given.file,
            f'{counted(len(items), "break")} of "{batch}" {shown}{f" (rows {rows}{more} too)" if rows else ""}. The '
            f"curve is of {known[0]}, read as {known[1]}: write one of the two in the column geometry, or leave the "
            f"{'break' if is_one else 'breaks'} out.",
            row=items[0].row,
            column="geometry",
        )
