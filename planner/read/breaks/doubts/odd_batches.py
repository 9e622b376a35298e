"""Batches that differ from the others as a slip does: averages, ages in another unit, another size of specimen."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from statistics import median

from planner.read.breaks.doubts.batch_levels import note_levels
from planner.read.breaks.doubts.lone_cells import note_lone_cells
from planner.read.breaks.doubts.other_batches import Held, OtherBatches
from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, listed
from planner.terms.plan.geometry import sizes_mm
from planner.terms.records import Break

# Bounds below: common practice, no source.
AVERAGES = frozenset(("mean", "average", "avg", "total", "sum", "median", "min", "max", "cv", "stdev", "std dev"))
UNLIKE_EVERYWHERE = 1.5  # times as strong as the others at every age, or as weak
ALIKE_RATIOS = 1.3  # largest over smallest ratio: the same factor at every age
FEWEST_CELLS, FEWEST_OTHERS = 3, 2
OLDEST_H = 24.0 * 730.0  # breaks older than two years are rare
AGE_FACTORS = ((60.0, "minutes"), (24.0, "multiplied by 24 once too often"), (1.0 / 24.0, "days"))
NEAR_STRENGTH = 1.3
SMALLEST_MM, LARGEST_MM = 25.0, 600.0
Cells = Mapping[str, Held]


def check_odd_batches(file: str, cells: Cells, findings: Findings) -> None:
    """Refuse rows of averages and impossible sizes; caution of what only looks like a slip."""
    _report_averages(file, cells, findings)
    _check_geometries(file, cells, findings)
    by_mix: dict[str, dict[str, Held]] = defaultdict(dict)
    for batch, held in cells.items():
        by_mix[next(iter(held.values()))[0].mix][batch] = held
    for mix, alike in by_mix.items():
        off_by_a_factor = set()
        others = OtherBatches(alike)
        for batch in alike:
            note_lone_cells(file, batch, others, findings)
            if others.n_others >= FEWEST_OTHERS:
                if _note_scale(file, batch, others, findings):
                    off_by_a_factor.add(batch)
                _note_ages(file, batch, others, findings)
        note_levels(file, {name: held for name, held in alike.items() if name not in off_by_a_factor}, mix, findings)
    _note_oldest(file, cells, findings)


def _report_averages(file: str, cells: Cells, findings: Findings) -> None:
    findings.rows(
        file,
        "batch",
        (
            (
                next(iter(held.values()))[0].row or 0,
                f'"{batch}" reads like an average of other rows, not like a batch. Remove these rows, or name it '
                "otherwise.",
            )
            for batch, held in cells.items()
            if batch.strip().casefold() in AVERAGES
        ),
    )


def _check_geometries(file: str, cells: Cells, findings: Findings) -> None:
    first: dict[str, Break] = {}
    for held in cells.values():
        for items in held.values():
            for item in items:
                first.setdefault(item.geometry, item)
    for geometry, item in first.items():
        if not geometry:
            continue
        try:
            shape, sizes = sizes_mm(geometry)
        except ValueError as error:
            findings.caution("geometry-unreadable", f"{file}: {error} Loads and volumes cannot be told without it.")
            continue
        if not all(SMALLEST_MM <= size <= LARGEST_MM for size in sizes):
            findings.problem(
                file,
                f'"{geometry}" is no size of a specimen for breaking ({SMALLEST_MM:g} to {LARGEST_MM:g} mm). Correct '
                "the size or its unit.",
                row=item.row,
                column="geometry",
            )
        elif shape == "cylinder" and sizes[1] < 0.9 * sizes[0]:
            findings.problem(
                file,
                f'"{geometry}" is lower than it is wide; a cylinder is named by diameter and height. Exchange them '
                "where they are turned round.",
                row=item.row,
                column="geometry",
            )


def _note_scale(file: str, batch: str, mix: OtherBatches, findings: Findings) -> bool:
    """Whether a batch is the same factor off at every age, as for another size under load or another mix; cautioned."""
    ratios = mix.ratios(batch, fewest=FEWEST_OTHERS)
    if len(ratios) < FEWEST_CELLS or max(ratios) > ALIKE_RATIOS * min(ratios):
        return False
    if min(ratios) > UNLIKE_EVERYWHERE or max(ratios) < 1.0 / UNLIKE_EVERYWHERE:
        first = next(iter(mix.batches[batch].values()))[0]
        findings.caution(
            "batch-off-by-a-factor",
            f'{file}: batch "{batch}" (from row {first.row}) has {median(ratios):.2g} times the strength of the other '
            "batches of its mix at every age. Was its load divided by the area of another size (150 instead of 100 mm "
            "is 0.44, a radius for a diameter 4), or is it another mix? Correct the strengths, or name its mix.",
        )
        return True
    return False


def _note_ages(file: str, batch: str, mix: OtherBatches, findings: Findings) -> None:
    """Ages that no other batch has, and that are another batch's age in another unit, at its strength."""
    held = mix.batches[batch]
    doubted: dict[str, list[str]] = defaultdict(list)
    for (curing, age_h), items in held.items():
        if mix.n_having((curing, age_h), batch):
            continue
        for factor, unit in AGE_FACTORS:
            cell = (curing, age_h / factor)
            if cell in held or mix.n_having(cell, batch) < FEWEST_OTHERS:
                continue
            ratio = mix.mean_mpa(batch, (curing, age_h)) / mix.median_mpa(cell, batch)
            if 1 / NEAR_STRENGTH < ratio < NEAR_STRENGTH:
                doubted[unit].append(f"{age_h:g} h (row {items[0].row}) for {age_label(age_h / factor)}")
                break
    for unit, noted in doubted.items():
        findings.caution(
            "ages-of-one-batch",
            f'{file}: batch "{batch}" alone has {listed(noted, most=4)}, with the strength of the others at the age '
            f"named second. Are these {unit}? Then correct the ages.",
        )


def _note_oldest(file: str, cells: Cells, findings: Findings) -> None:
    oldest = max((item for held in cells.values() for items in held.values() for item in items), key=lambda b: b.age_h)
    if oldest.age_h > OLDEST_H:
        findings.caution(
            "ages-of-years",
            f"{file}: the oldest break is {oldest.age_h:g} h old, {oldest.age_h / 8766.0:.1f} years, row {oldest.row}. "
            f"Are the ages in minutes? Then divide them by 60, which makes it {age_label(oldest.age_h / 60.0)}.",
        )
