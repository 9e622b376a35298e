"""The reading door: a plan with all its files, checked together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from planner.terms.problems import InputError, Problem
from planner.terms.records import Break, CuringRecord, Records
from planner.terms.settings import Plan

from .break_checks import check_breaks
from .break_columns import BREAK_COLUMNS, has_break_columns
from .break_file import BreakRows, read_breaks
from .csv_table import read_csv
from .curing_records import build_curing_records
from .files import TABLE_ENDINGS, Shelf
from .findings import Findings
from .headings import Synonyms, known_headings
from .matching import check_served
from .outlying import note_outlying
from .plan_file import RawPlan, read_plan_tables
from .plan_settings import build_settings
from .plan_tables import PriorTable
from .tables import Table
from .temperature_file import TEMPERATURE_COLUMNS, has_temperature_columns, read_temperatures
from .workbook import HasColumns, read_workbook


def load_plan(path: str | Path, *, allow_outside: bool = False) -> Plan:
    """Read a plan with its break and temperature files.

    Parameters
    ----------
    path
        The plan, a TOML file. Paths in it are relative to its folder.
    allow_outside
        Whether files outside that folder may be read.

    Raises
    ------
    InputError
        With every problem of all the files that could be found in one go.
    """
    plan, problems = check_plan(path, allow_outside=allow_outside)
    if plan is None:
        raise InputError(problems)
    return plan


def check_plan(path: str | Path, *, allow_outside: bool = False) -> tuple[Plan | None, tuple[Problem, ...]]:
    """Read a plan with its files and list every problem; the plan is None where there are any."""
    findings = Findings()
    path = Path(path)
    shelf = Shelf(path.parent, findings, allow_outside=True)
    content = shelf.take(path.name, endings=(".toml",))
    if content is None:
        return None, tuple(findings.problems)
    shelf.allow_outside = allow_outside
    raw = read_plan_tables(path.name, content, findings)
    settings = build_settings(path.name, raw, findings)
    records = _read_records(raw, shelf, findings)
    if findings.problems or settings is None or records is None:
        return None, tuple(findings.problems)
    return Plan(settings=settings, records=records, name=path.name, inputs=tuple(shelf.inputs.items())), ()


@dataclass(frozen=True, slots=True)
class _PriorFacts:
    """What reading the records needs to know of [prior]; None throughout where it has faults."""

    is_known: bool
    geometry: str | None = None
    standard_curing_c: float | None = None


def _read_records(raw: RawPlan, shelf: Shelf, findings: Findings) -> Records | None:
    table = raw.tables.get("prior")
    facts = _PriorFacts(False)
    if isinstance(table, PriorTable):
        facts = _PriorFacts(True, table.geometry, table.standard_curing_c)
    break_file, temperature_file = raw.text("prior", "breaks"), raw.text("prior", "temperatures")
    if break_file is None:
        return Records(breaks=())
    rows = _read_break_file(break_file, shelf, findings)
    breaks: tuple[Break, ...] | None = None
    if rows is not None:
        breaks = check_breaks(
            break_file, rows, findings, geometry=facts.geometry, is_geometry_known=facts.is_known
        )
        note_outlying(breaks, findings)
    curing_records: tuple[CuringRecord, ...] = ()
    if temperature_file is not None:
        n_before = len(findings.problems)
        curing_records = _read_temperature_file(temperature_file, shelf, findings)
        if breaks is not None and facts.is_known and len(findings.problems) == n_before:
            curing_records = check_served(
                break_file,
                temperature_file,
                breaks,
                curing_records,
                findings,
                standard_curing_c=facts.standard_curing_c,
            )
    if rows is None or breaks is None:
        return None
    return Records(
        breaks=breaks,
        curing_records=curing_records,
        voided=rows.voided,
        cautions=tuple(findings.cautions),
        has_mix_column=rows.has_mix_column,
        has_curing_column=rows.has_curing_column,
    )


def _read_break_file(name: str, shelf: Shelf, findings: Findings) -> BreakRows | None:
    table = _read_table(
        name,
        shelf,
        findings,
        key="prior.breaks",
        columns=BREAK_COLUMNS,
        has_columns=has_break_columns,
        needed="batch, an age and a strength",
    )
    rows = None if table is None else read_breaks(table, findings)
    if rows is not None and not rows.breaks:
        findings.problem(name, "Every row is void. Give at least one break that may be used.")
        return None
    return rows


def _read_temperature_file(name: str, shelf: Shelf, findings: Findings) -> tuple[CuringRecord, ...]:
    table = _read_table(
        name,
        shelf,
        findings,
        key="prior.temperatures",
        columns=TEMPERATURE_COLUMNS,
        has_columns=has_temperature_columns,
        needed="batch, curing, elapsed_h and temperature_c",
    )
    readings = None if table is None else read_temperatures(table, findings)
    return () if readings is None else build_curing_records(name, readings, findings)


def _read_table(
    name: str,
    shelf: Shelf,
    findings: Findings,
    *,
    key: str,
    columns: Synonyms,
    has_columns: HasColumns,
    needed: str,
) -> Table | None:
    content = shelf.take(name, endings=TABLE_ENDINGS, column=key)
    if content is None:
        return None
    if not content.strip():
        findings.problem(name, "The file is empty. Give a row of headings and the records below it.")
        return None
    known = known_headings(columns)
    if name.lower().endswith(".xlsx"):
        return read_workbook(name, content, findings, known=known, has_columns=has_columns, needed=needed)
    return read_csv(name, content, findings, known=known)
