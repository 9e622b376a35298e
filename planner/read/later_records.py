"""Breaks that come after the plan: trial batches, the early breaks of a pour, the companions of site checks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from planner.read.breaks.break_checks import check_breaks
from planner.read.breaks.doubts.outlying import note_outlying
from planner.read.breaks.doubts.record_doubts import report_two_mixes
from planner.read.matching import check_served, note_unused, report_minutes
from planner.read.parsing.file_bytes import Shelf
from planner.read.parsing.findings import Findings
from planner.read.plan.plan_file import RawPlan, read_plan_tables
from planner.read.plan.plan_tables import PriorTable, TargetTable
from planner.read.record_files import (
    break_context,
    read_batch_file,
    read_break_file,
    read_temperature_file,
    reading_context,
)
from planner.read.temperatures.later_doubts import note_still_sensors
from planner.terms.problems import InputError
from planner.terms.records import Break, CuringRecord, GivenRecords, Records

NOT_OF_LATER = "mix-assumed"  # the plan says for what concrete the breaks are


def load_later(plan: str | Path, breaks: str | Path, temperatures: str | Path | None = None) -> GivenRecords:
    """Read breaks made after a plan, understood as the plan's own tables are.

    Parameters
    ----------
    plan
        The plan's file: its clock, zone, geometry and property hold for the breaks too.
    breaks
        A table of breaks, or the workbook that ``recommend`` wrote, filled and saved.
    temperatures
        A table of temperatures. Left out: the sheet of a workbook, where it has readings; else none.

    Raises
    ------
    InputError
        With every problem of the files that could be found in one go.
    """
    findings = Findings()
    raw, plan_shelf = _raw_plan(Path(plan), findings)
    breaks = Path(breaks)
    shelf = Shelf(breaks.parent, findings, allow_outside=True)
    register, is_register_sound = read_batch_file(raw, plan_shelf, findings)
    context = replace(break_context(raw, register, is_register_sound=is_register_sound), is_later=True)
    rows = read_break_file(breaks.name, shelf, findings, context)
    given: tuple[Break, ...] = ()
    if rows is not None:
        given = check_breaks(breaks.name, rows, findings, context)
        report_two_mixes(breaks.name, given, findings)
        note_outlying(given, findings)
    records: tuple[CuringRecord, ...] = ()
    if temperatures is not None:
        temperatures = Path(temperatures)
        other = Shelf(temperatures.parent, findings, allow_outside=True)
        records = read_temperature_file(temperatures.name, other, findings, reading_context(raw, register))
        shelf.inputs.update(other.inputs)
    elif breaks.suffix.lower() == ".xlsx":
        records = _readings_of_workbook(breaks, raw, findings)
    served_by = temperatures.name if isinstance(temperatures, Path) else breaks.name
    if records and not findings.problems:
        target = raw.tables.get("target")
        ages_h = target.ages if isinstance(target, TargetTable) else ()
        report_minutes(served_by, given, records, findings, targets_h=ages_h)
        note_still_sensors(served_by, records, findings)
    if records and not findings.problems:
        prior = raw.tables.get("prior")
        records = check_served(
            breaks.name,
            served_by,
            [item for item in given if item.maturity is None],
            records,
            findings,
            standard_curing_c=prior.standard_curing_c if isinstance(prior, PriorTable) else None,
        )
        note_unused(served_by, given, records, findings)
    if findings.problems or rows is None:
        raise InputError(findings.problems, units=raw.output_units)
    return GivenRecords(
        file=breaks.name,
        records=Records(
            breaks=given,
            curing_records=records,
            voided=rows.voided,
            cautions=tuple(item for item in findings.cautions if item.code != NOT_OF_LATER),
            has_mix_column=rows.has_mix_column,
            has_curing_column=rows.has_curing_column,
            age_zero=register.age_zero if register is not None else "",
        ),
        inputs=tuple(shelf.inputs.items()),
    )


def _raw_plan(path: Path, findings: Findings) -> tuple[RawPlan, Shelf]:
    shelf = Shelf(path.parent, findings, allow_outside=True)
    content = shelf.take(path.name, endings=(".toml",))
    if content is None:
        raise InputError(findings.problems)
    raw = read_plan_tables(path.name, content, findings)
    if findings.problems:
        raise InputError(findings.problems)
    return raw, shelf


def _readings_of_workbook(breaks: Path, raw: RawPlan, findings: Findings) -> tuple[CuringRecord, ...]:
    """The temperature sheet of the workbook; nothing where it has no readings yet."""
    apart = Findings()
    shelf = Shelf(breaks.parent, apart, allow_outside=True)
    records = read_temperature_file(breaks.name, shelf, apart, reading_context(raw, None))
    if records:
        findings.problems.extend(apart.problems)
        findings.cautions.extend(apart.cautions)
    return records
