"""What in breaks after the plan looks like a slip or a guess, whatever they are given for; one caution each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.maturity import constant_maturity
from planner.maturity.implied_temperature import implied_temperature_c
from planner.terms.labels import age_label, counted, listed, percent
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Caution
from planner.terms.records import Break, Records

MOST_LISTED = 4
# Bounds below: common practice, no source.
AS_TYPED = 0.002  # a maturity this near that of a constant temperature was worked out, not logged
FEWEST_TYPED = 3
UNEVEN = 1.2  # largest over smallest maturity of specimens broken together
TOGETHER = 0.05  # difference of ages within which they were
OUTSIDE_K = 1.0  # beyond the temperatures of the calibration
FEWEST_COPIED = 3  # breaks that are all those of an earlier batch


def given_doubts(
    file: str,
    breaks: Sequence[Break],
    setting: MaturitySetting,
    *,
    geometry: str,
    temperature_c: tuple[float, float] | None,
    records: Records,
) -> Iterator[Caution]:
    """Doubts about the breaks of a trial batch, of a pour or of site checks.

    Parameters
    ----------
    breaks
        As they stand in the file: those of no stated geometry too.
    geometry
        Of the curve, "" where it does not say.
    temperature_c
        Coolest and warmest concrete that the calibration holds for; None: not limited.
    records
        Of the earlier batches.
    """
    unstated = [item for item in breaks if not item.geometry]
    if geometry and unstated:
        yield Caution(
            "geometry-assumed",
            f"{file} does not say the geometry of {counted(len(unstated), 'break')}: taken as {geometry}. Cubes break "
            "stronger than cylinders; add the column geometry where they were another.",
        )
    logged = [item for item in breaks if item.maturity is not None]
    yield from _worked_out(file, logged, setting)
    yield from _uneven(file, logged)
    yield from _outside(file, logged, setting, temperature_c)
    yield from _copied(file, breaks, records)


def _worked_out(file: str, logged: Sequence[Break], setting: MaturitySetting) -> Iterator[Caution]:
    """Maturities that are those of the reference temperature held throughout."""
    _, per_hour = maturity_unit(setting)
    if setting.method == "age" or len(logged) < FEWEST_TYPED:
        return
    at_reference = (
        constant_maturity(np.array([item.tested_h for item in logged]), setting.reference_c, setting) * per_hour
    )
    given = np.array([item.maturity for item in logged])
    if np.all(np.abs(given / at_reference - 1.0) <= AS_TYPED):
        yield Caution(
            "maturity-is-age",
            f"{file}: every maturity is that of concrete kept at {setting.reference_c:g} C from its casting on, "
            f"like {logged[0].maturity:.4g} at {age_label(logged[0].age_h)} (row {logged[0].row}). Concrete warms "
            "itself and cools: where the ages were filled in, give the logger's maturities or --temperatures.",
        )


def _uneven(file: str, logged: Sequence[Break]) -> Iterator[Caution]:
    """Specimens broken together whose maturities differ as those of one place never do."""
    cells: dict[tuple[str, str, str, float], list[Break]] = defaultdict(list)
    for item in logged:
        cells[item.batch, item.curing, item.placement, item.age_h].append(item)
    found = []
    for (batch, curing, _, age_h), items in cells.items():
        maturities = [item.maturity for item in items if item.maturity is not None]
        ages = [item.tested_h for item in items]
        if max(ages) <= (1.0 + TOGETHER) * min(ages) and max(maturities) > UNEVEN * min(maturities):
            found.append(
                f"{batch} {curing} at {age_label(age_h)} {min(maturities):.4g} to {max(maturities):.4g} (from row "
                f"{items[0].row})"
            )
    if found:
        yield Caution(
            "maturity-uneven",
            f"{file}: specimens broken together have maturities more than {percent(UNEVEN - 1.0, digits=0)} apart: "
            f"{listed(found, most=MOST_LISTED)}. Their mean counts: correct the figure that slipped, or name the "
            "places where they lay apart.",
        )


def _outside(
    file: str, logged: Sequence[Break], setting: MaturitySetting, span_c: tuple[float, float] | None
) -> Iterator[Caution]:
    """Site-cured specimens whose maturity speaks of concrete colder or warmer than the calibration."""
    if span_c is None:
        return
    _, per_hour = maturity_unit(setting)
    found: dict[tuple[str, str, float], str] = {}
    for item in logged:
        if item.curing != "site" or item.maturity is None:
            continue
        mean_c = implied_temperature_c(item.maturity / per_hour, item.tested_h, setting)
        if mean_c is not None and not span_c[0] - OUTSIDE_K <= mean_c <= span_c[1] + OUTSIDE_K:
            said = f"{item.batch} at {age_label(item.age_h)} {item.maturity:.4g}, as at {mean_c:.0f} C (row {item.row})"
            found.setdefault((item.batch, item.placement, item.age_h), said)
    if found:
        yield Caution(
            "maturity-outside-temperatures",
            f"{file}: maturities speak of concrete outside the {span_c[0]:.0f} to {span_c[1]:.0f} C that the curve "
            f"holds for: {listed(found.values(), most=MOST_LISTED)}. "
            "See whether age, unit and maturity function of the logger are the curve's; "
            "where they are, take no safe reading there.",
        )


def _copied(file: str, breaks: Sequence[Break], records: Records) -> Iterator[Caution]:
    """Batches that are an earlier one under a new name."""
    earlier: dict[str, dict[tuple[str, float], list[float]]] = defaultdict(lambda: defaultdict(list))
    for item in records.breaks:
        earlier[item.batch][item.curing, item.age_h].append(item.strength_mpa)
    own: dict[str, list[Break]] = defaultdict(list)
    for item in breaks:
        own[item.batch].append(item)
    for batch, items in own.items():
        same = [name for name, cells in earlier.items() if len(items) >= FEWEST_COPIED and _are_held(items, cells)]
        if same and batch not in earlier:
            yield Caution(
                "given-among-records",
                f"{file}: all {len(items)} breaks of {batch} (from row {items[0].row}) are those of the earlier batch "
                f"{same[0]}, to the last digit. Give its own breaks; a batch that the error figures have "
                "seen proves nothing.",
            )


def _are_held(items: Sequence[Break], cells: dict[tuple[str, float], list[float]]) -> bool:
    left = {cell: list(values) for cell, values in cells.items()}
    for item in items:
        values = left.get((item.curing, item.age_h), [])
        if item.strength_mpa not in values:
            return False
        values.remove(item.strength_mpa)
    return True
