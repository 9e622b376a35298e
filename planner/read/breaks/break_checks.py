"""What a careful reader notices in the breaks of a study once every cell is read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from planner.read.breaks.break_file import BreakRows, normalise_geometry
from planner.read.breaks.doubts.record_doubts import check_doubts
from planner.read.breaks.listed_geometries import by_geometry, of_listed
from planner.read.breaks.nominal_ages import with_nominal_ages
from planner.read.casting.break_context import BreakContext
from planner.read.parsing.findings import Findings
from planner.terms.labels import counted, listed, shortened
from planner.terms.plan.tolerances import limits_unless_named
from planner.terms.records import Break
from planner.units import HOURS_PER_DAY

CUSTOMARY_DAYS = frozenset((1.0, 2.0, 3.0, 7.0, 14.0, 21.0, 28.0, 56.0, 90.0, 91.0))
LIKE_THE_OTHERS = 0.85  # a break this near the strength of the longer age cannot be 24 times younger


def check_breaks(file: str, rows: BreakRows, findings: Findings, context: BreakContext) -> tuple[Break, ...]:
    """Check the breaks against each other, keep those of the wanted geometry, and give them their ages."""
    n_before = len(findings.problems)
    _report_duplicates(file, (*rows.breaks, *rows.voided), findings)
    if rows.age_column:
        _report_wrong_age_unit(file, rows, findings)
    breaks = rows.breaks
    if context.geometries:
        breaks = of_listed(file, breaks, context.geometries, findings, is_later=context.is_later)
    is_sound = len(findings.problems) == n_before
    if context.is_prior_known and not context.geometries:
        breaks = _of_one_geometry(file, breaks, findings, context.geometry)
    if is_sound:
        for alike in by_geometry(breaks) if context.geometries else [breaks]:
            check_doubts(file, rows.age_column or "age", alike, findings)
    _note_assumptions(file, rows, findings)
    if len(findings.problems) > n_before:
        return breaks
    return with_nominal_ages(
        file,
        breaks,
        findings,
        plan_ages_h=context.plan_ages_h,
        tolerances=context.age_tolerances or limits_unless_named({item.geometry for item in breaks}),
        is_stated=bool(rows.age_column) and rows.has_actual_ages,
    )


def _report_duplicates(file: str, breaks: Iterable[Break], findings: Findings) -> None:
    first: dict[tuple[str, str], Break] = {}
    offenders: list[tuple[int, str]] = []
    for item in sorted(breaks, key=lambda item: item.row or 0):
        if not item.specimen:
            continue
        earlier = first.setdefault((item.batch, item.specimen), item)
        if earlier is not item:
            offenders.append(
                (
                    item.row or 0,
                    f'The specimen "{item.specimen}" of batch "{item.batch}" was already broken in row '
                    f"{earlier.row}. Remove the repeat, or give each specimen of a batch its own label.",
                )
            )
    findings.rows(file, "specimen", offenders)


def _report_wrong_age_unit(file: str, rows: BreakRows, findings: Findings) -> None:
    """Report ages that are surely days in a column of hours, or hours in a column of days."""
    in_days = rows.age_column == "age_d"
    ages = {item.age_h for item in rows.breaks}
    if not in_days and ages and ages <= CUSTOMARY_DAYS and max(ages) >= 28.0:
        findings.problem(
            file,
            f"The ages are {listed(f'{age:g}' for age in sorted(ages))} h, which are customary ages in days. "
            "Rename the column to age_d.",
            column=rows.age_column,
        )
        return
    study = _Study.of(rows.breaks)
    given, meant = ("d", "h") if in_days else ("h", "d")
    offenders: list[tuple[int, str]] = []
    for item in rows.breaks:
        other_h = item.age_h / HOURS_PER_DAY if in_days else item.age_h * HOURS_PER_DAY
        if study.is_surely(item, other_h):
            number = item.age_h / HOURS_PER_DAY if in_days else item.age_h
            offenders.append(
                (
                    item.row or 0,
                    f"The age is {number:g} {given}, but other breaks at {number:g} {meant} ({other_h:g} h) "
                    "have a like strength. Correct the unit of the age.",
                )
            )
    findings.rows(file, rows.age_column, offenders)


@dataclass(frozen=True, slots=True, eq=False)
class _Study:
    """Who was broken when, and how strong."""

    n_batches: int
    holders: dict[float, set[str]]  # age -> batches that have it
    strengths: dict[tuple[str, float], list[float]]  # (curing, age) -> strengths
    course: dict[tuple[str, str], list[tuple[float, float]]]  # (batch, curing) -> (age, strength) pairs

    @classmethod
    def of(cls, breaks: Sequence[Break]) -> _Study:
        study = cls(len({item.batch for item in breaks}), {}, {}, {})
        for item in breaks:
            study.holders.setdefault(item.age_h, set()).add(item.batch)
            study.strengths.setdefault((item.curing, item.age_h), []).append(item.strength_mpa)
            study.course.setdefault((item.batch, item.curing), []).append((item.age_h, item.strength_mpa))
        return study

    def is_surely(self, item: Break, other_h: float) -> bool:
        """Whether a break was made at the other age: few have its own, and it is as strong as there."""
        others = self.strengths.get((item.curing, other_h))
        if not others or item.curing == "heat" or 2 * len(self.holders[item.age_h]) > self.n_batches:
            return False
        ratio = item.strength_mpa / median(others)
        if not LIKE_THE_OTHERS <= ratio <= 1.0 / LIKE_THE_OTHERS:
            return False
        between = [
            strength
            for age_h, strength in self.course[item.batch, item.curing]
            if min(item.age_h, other_h) < age_h < max(item.age_h, other_h)
        ]
        if other_h > item.age_h:
            return item.age_h in CUSTOMARY_DAYS and all(item.strength_mpa > strength for strength in between)
        return all(item.strength_mpa < strength for strength in between)


def _note_assumptions(file: str, rows: BreakRows, findings: Findings) -> None:
    if not rows.has_curing_column:
        findings.caution(
            "curing-assumed",
            f"{file} has no curing column: all {len(rows.breaks)} breaks are taken as standard-cured. "
            "Add the column where any of them lay on site.",
        )
    if not rows.has_mix_column:
        findings.caution(
            "mix-assumed",
            f"{file} has no mix column: all batches are taken as one mix. Add the column where they are not.",
        )
    if rows.voided:
        reasons = listed(f"row {item.row}: {item.void}" for item in rows.voided)
        findings.caution("voided-breaks", f"Void and not used: {counted(len(rows.voided), 'break')} ({reasons}).")


def _of_one_geometry(
    file: str, breaks: tuple[Break, ...], findings: Findings, geometry: str | None
) -> tuple[Break, ...]:
    if geometry is not None:
        return _selected(file, breaks, findings, normalise_geometry(geometry))
    by_batch: dict[str, dict[str, int]] = defaultdict(dict)
    for item in breaks:
        by_batch[item.batch].setdefault(item.geometry, item.row or 0)
    mixed = [(batch, shapes) for batch, shapes in by_batch.items() if len(shapes) > 1]
    findings.rows(
        file,
        "geometry",
        (
            (
                list(shapes.values())[1],
                f'Batch "{batch}" has specimens of {len(shapes)} geometries '
                f"({listed(shape or 'not stated' for shape in shapes)}). A batch is fitted from one: "
                "select it with [prior] geometry, or list what could be cast under [[specimens]]; nothing is converted "
                "silently.",
            )
            for batch, shapes in mixed
        ),
    )
    shapes = dict.fromkeys(item.geometry for item in breaks)
    if len(shapes) > 1 and not mixed:
        findings.caution(
            "geometry-differs",
            f"The batches have specimens of {len(shapes)} geometries "
            f"({listed(shape or 'not stated' for shape in shapes)}); strengths are not converted. "
            "Select one with [prior] geometry where that matters.",
        )
    return breaks


def _selected(file: str, breaks: tuple[Break, ...], findings: Findings, geometry: str) -> tuple[Break, ...]:
    kept = tuple(item for item in breaks if item.geometry == geometry)
    if breaks and not kept:
        shapes = dict.fromkeys(item.geometry or "not stated" for item in breaks)
        findings.problem(
            file,
            f'No break has the geometry "{shortened(geometry)}" that [prior] geometry selects. '
            f"There are: {listed(shapes)}.",
            column="geometry",
        )
    elif len(kept) < len(breaks):
        findings.caution(
            "geometry-selected",
            f"{len(breaks) - len(kept)} of {len(breaks)} breaks are of another geometry than {geometry} "
            "and are not used.",
        )
    return kept
