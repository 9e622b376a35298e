"""The files that a plan names, into checked records."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.read.breaks.break_checks import check_breaks
from planner.read.breaks.break_columns import BREAK_COLUMNS, has_break_columns
from planner.read.breaks.break_file import BreakRows, read_breaks
from planner.read.breaks.doubts.outlying import note_outlying
from planner.read.breaks.doubts.record_doubts import check_between_files, note_pooled_mixes
from planner.read.breaks.wide_sheet import is_wide, lengthen
from planner.read.casting.batch_file import BATCH_COLUMNS, BatchRegister, Zone, has_batch_columns, read_batches
from planner.read.casting.break_context import BreakContext
from planner.read.casting.reading_context import ReadingContext
from planner.read.matching import check_served, note_unused, report_minutes
from planner.read.parsing.file_bytes import TABLE_ENDINGS, Shelf
from planner.read.parsing.findings import Findings
from planner.read.plan.plan_file import RawPlan
from planner.read.plan.plan_tables import ChoicesTable, PriorTable, TargetTable, TemperatureFileTable
from planner.read.plan.programme_tables import LaboratoryTable, SpecimensTable
from planner.read.plan.specimen_settings import target_geometry
from planner.read.tabular.cell_table import Table
from planner.read.tabular.csv_table import read_csv
from planner.read.tabular.headings import known_headings
from planner.read.tabular.workbook_table import HasColumns, read_workbook
from planner.read.temperatures.curing_records import build_curing_records, place_name
from planner.read.temperatures.logger_file import has_logger_columns, known_to_logger, read_logger
from planner.read.temperatures.temperature_file import TEMPERATURE_COLUMNS, has_temperature_columns, read_temperatures
from planner.terms.records import Break, CuringRecord, Records


def read_records(raw: RawPlan, shelf: Shelf, findings: Findings) -> Records | None:
    """Read the break, temperature and batch files; None, with reasons in the findings, where that fails."""
    break_files, temperature_files = raw.texts("prior", "breaks"), raw.texts("prior", "temperatures")
    if not break_files:
        return Records(breaks=())
    register, is_register_sound = read_batch_file(raw, shelf, findings)
    context = break_context(raw, register, is_register_sound=is_register_sound)
    tables = {name: _checked_breaks(name, shelf, findings, context) for name in break_files}
    _report_shared(((name, table.batches) for name, table in tables.items() if table), findings, what="Batch")
    _check_together(raw, tables, findings)
    curing_records: tuple[CuringRecord, ...] = ()
    is_export_known = "temperature_file" not in raw.given or "temperature_file" in raw.tables
    if temperature_files and is_register_sound and is_export_known:
        n_before = len(findings.problems)
        curing_records = _temperatures_of(temperature_files, shelf, findings, reading_context(raw, register))
        is_sound = context.is_prior_known and len(findings.problems) == n_before
        if is_sound and all(table is not None for table in tables.values()):
            prior = raw.tables.get("prior")
            standard_c = prior.standard_curing_c if isinstance(prior, PriorTable) else None
            curing_records = _served(tables, temperature_files, curing_records, findings, standard_c)
    read = [table for table in tables.values() if table is not None]
    if len(read) < len(tables):
        return None
    return Records(
        breaks=tuple(item for table in read for item in table.breaks),
        curing_records=curing_records,
        voided=tuple(item for table in read for item in table.rows.voided),
        cautions=tuple(findings.cautions),
        has_mix_column=all(table.rows.has_mix_column for table in read),
        has_curing_column=all(table.rows.has_curing_column for table in read),
        age_zero=register.age_zero if register is not None else "",
    )


@dataclass(frozen=True, slots=True, eq=False)
class _BreakTable:
    """One break file, read and checked."""

    rows: BreakRows
    breaks: tuple[Break, ...]

    @property
    def batches(self) -> frozenset[str]:
        return frozenset(item.batch for item in (*self.breaks, *self.rows.voided))


def _checked_breaks(name: str, shelf: Shelf, findings: Findings, context: BreakContext) -> _BreakTable | None:
    rows = read_break_file(name, shelf, findings, context)
    if rows is None:
        return None
    breaks = check_breaks(name, rows, findings, context)
    note_outlying(breaks, findings)
    return _BreakTable(rows, breaks)


def _check_together(raw: RawPlan, tables: dict[str, _BreakTable | None], findings: Findings) -> None:
    """Look for batches of one file under another name in the next, and for mixes that stand in for one another."""
    everything = [item for table in tables.values() if table is not None for item in table.breaks]
    named, prior = ", ".join(tables), raw.tables.get("prior")
    if len(tables) > 1:
        check_between_files(named, everything, findings)
    if isinstance(prior, PriorTable) and prior.hold_out == "batch":
        note_pooled_mixes(named, everything, findings)


def _temperatures_of(
    names: tuple[str, ...], shelf: Shelf, findings: Findings, context: ReadingContext
) -> tuple[CuringRecord, ...]:
    read = {name: read_temperature_file(name, shelf, findings, context) for name in names}
    places = (
        (name, frozenset(place_name(each.batch, each.curing, each.placement) for each in records))
        for name, records in read.items()
    )
    _report_shared(places, findings, what="The temperatures of")
    return tuple(each for records in read.values() for each in records)


def _report_shared(named: Iterable[tuple[str, frozenset[str]]], findings: Findings, *, what: str) -> None:
    """Refuse what stands in two files of one kind: it cannot be told which is meant, or whether they are one."""
    home: dict[str, str] = {}
    for name, found in named:
        for item in sorted(found):
            if item in home:
                findings.problem(
                    name,
                    f'{what} "{item}" stands in {home[item]} too. Give it in one file, or a name of its own.',
                )
            home.setdefault(item, name)


def _served(
    tables: dict[str, _BreakTable | None],
    temperature_files: tuple[str, ...],
    records: tuple[CuringRecord, ...],
    findings: Findings,
    standard_c: float | None,
) -> tuple[CuringRecord, ...]:
    """Records carried on to the breaks of every file that they serve."""
    named = ", ".join(temperature_files)
    everything = [item for table in tables.values() if table is not None for item in table.breaks]
    note_unused(named, everything, records, findings)
    report_minutes(named, everything, records, findings)
    for name, table in tables.items():
        if table is not None:
            records = check_served(name, named, table.breaks, records, findings, standard_curing_c=standard_c)
    return records


def _laboratory_zone(raw: RawPlan) -> str | None:
    table = raw.tables.get("laboratory")
    return table.time_zone if isinstance(table, LaboratoryTable) else None


def _logger_zone(raw: RawPlan) -> str | None:
    table = raw.tables.get("temperature_file")
    return table.time_zone if isinstance(table, TemperatureFileTable) else None


def _zone(*names: str | None) -> Zone:
    """Take the first zone that is stated."""
    return next((Zone(name, True) for name in names if name is not None), Zone())


def break_context(raw: RawPlan, register: BatchRegister | None, *, is_register_sound: bool) -> BreakContext:
    """What the plan and the batch file say of breaks."""
    prior, laboratory = raw.tables.get("prior"), raw.tables.get("laboratory")
    target, choices = raw.tables.get("target"), raw.tables.get("choices")
    ages = (target.ages if isinstance(target, TargetTable) else ()) + (
        choices.ages if isinstance(choices, ChoicesTable) else ()
    )
    if not isinstance(prior, PriorTable):
        return BreakContext(can_date=False, is_prior_known=False, plan_ages_h=ages)
    tolerances = laboratory.age_tolerances if isinstance(laboratory, LaboratoryTable) else None
    return BreakContext(
        register=register,
        can_date=is_register_sound,
        zone=_zone(_laboratory_zone(raw), _logger_zone(raw)),
        pattern=prior.time_format,
        property=prior.property,
        geometry=prior.geometry,
        geometries=_listed_geometries(raw),
        plan_ages_h=ages,
        age_tolerances=tolerances,
    )


def _listed_geometries(raw: RawPlan) -> tuple[str, ...]:
    """What could be cast and what the specification speaks of; none where the plan lists nothing to cast."""
    listed = [table.geometry for table in raw.lists.get("specimens", ()) if isinstance(table, SpecimensTable)]
    wanted = target_geometry(raw)
    return tuple(dict.fromkeys([*listed, *([wanted] if wanted else [])])) if listed else ()


def reading_context(raw: RawPlan, register: BatchRegister | None) -> ReadingContext:
    """What the plan and the batch file say of temperatures."""
    table, target = raw.tables.get("temperature_file"), raw.tables.get("target")
    zone = _zone(_logger_zone(raw), _laboratory_zone(raw))
    if not isinstance(table, TemperatureFileTable):
        return ReadingContext(register=register, zone=zone)
    return ReadingContext(
        register=register,
        zone=zone,
        pattern=table.time_format,
        skip_rows=table.skip_rows,
        sensors=table.columns,
        unit=table.unit,
        is_first_zero=table.age_zero == "first reading",
        earliest_target_h=min(target.ages, default=None) if isinstance(target, TargetTable) else None,
    )


def read_batch_file(raw: RawPlan, shelf: Shelf, findings: Findings) -> tuple[BatchRegister | None, bool]:
    """Read the batch file; the truth is False where there is one with faults."""
    name, prior = raw.text("prior", "batches"), raw.tables.get("prior")
    if name is None:
        return None, True
    table = read_table(
        name,
        shelf,
        findings,
        key="prior.batches",
        known=known_headings(BATCH_COLUMNS),
        has_columns=has_batch_columns,
        needed="batch and cast_at",
    )
    if table is None:
        return None, False
    zone = _zone(_laboratory_zone(raw), _logger_zone(raw))
    pattern = prior.time_format if isinstance(prior, PriorTable) else None
    register = read_batches(table, findings, zone=zone, pattern=pattern)
    return register, register is not None


def read_break_file(name: str, shelf: Shelf, findings: Findings, context: BreakContext) -> BreakRows | None:
    """Read one table of breaks; None, with reasons in the findings, where that fails."""
    table = read_table(
        name,
        shelf,
        findings,
        key="prior.breaks",
        known=known_headings(BREAK_COLUMNS),
        has_columns=lambda headings: has_break_columns(headings) or is_wide(headings),
        needed="batch, an age and a strength",
    )
    if table is not None and is_wide(table.headings):
        table = lengthen(table, findings)
    rows = None if table is None else read_breaks(table, findings, context)
    if rows is not None and not rows.breaks:
        findings.problem(name, "Every row is void. Give at least one break that may be used.")
        return None
    return rows


def read_temperature_file(
    name: str, shelf: Shelf, findings: Findings, context: ReadingContext
) -> tuple[CuringRecord, ...]:
    """Read one table of temperatures; empty, with reasons in the findings, where that fails."""
    is_logger = bool(context.sensors)
    table = read_table(
        name,
        shelf,
        findings,
        key="prior.temperatures",
        known=known_to_logger(context.sensors) if is_logger else known_headings(TEMPERATURE_COLUMNS),
        has_columns=(lambda headings: has_logger_columns(headings, context.sensors))
        if is_logger
        else has_temperature_columns,
        needed="that [temperature_file] names" if is_logger else "batch, curing, elapsed_h and temperature_c",
        skip_rows=context.skip_rows,
    )
    if table is None:
        return ()
    readings = (read_logger if is_logger else read_temperatures)(table, findings, context)
    return () if readings is None else build_curing_records(name, readings, findings)


def read_table(
    name: str,
    shelf: Shelf,
    findings: Findings,
    *,
    key: str,
    known: frozenset[str],
    has_columns: HasColumns,
    needed: str,
    skip_rows: int = 0,
) -> Table | None:
    """Read one table of any kind that people keep it in; None, with reasons in the findings, where that fails."""
    content = shelf.take(name, endings=TABLE_ENDINGS, column=key)
    if content is None:
        return None
    if not content.strip():
        findings.problem(name, "The file is empty. Give a row of headings and the records below it.")
        return None
    if name.lower().endswith(".xlsx"):
        return read_workbook(
            name, content, findings, known=known, has_columns=has_columns, needed=needed, skip_rows=skip_rows
        )
    return read_csv(name, content, findings, known=known, skip_rows=skip_rows)
