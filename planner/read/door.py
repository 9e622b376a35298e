"""The reading door: a plan with all its files, checked together."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from planner.laboratory.costs.estimate import geometry_of, litres_of_one
from planner.read.parsing.file_bytes import Shelf
from planner.read.parsing.findings import Findings
from planner.read.plan.doubts.age_doubts import age_doubts
from planner.read.plan.doubts.plan_doubts import plan_doubts
from planner.read.plan.plan_file import RawPlan, read_plan_tables
from planner.read.plan.plan_settings import build_settings
from planner.read.plan.programme_tables import LaboratoryTable
from planner.read.record_files import read_records
from planner.read.search_size import check_search_size
from planner.terms.plan.geometry import are_ends_prepared
from planner.terms.plan.settings import OutputUnits, Plan, Settings
from planner.terms.plan.tolerances import limits_unless_named
from planner.terms.problems import InputError, Problem
from planner.terms.records import Records


def load_plan(path: str | Path, *, allow_outside: bool = False) -> Plan:
    """Read a plan with its break, temperature and batch files.

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
    plan, problems, units = _checked(path, allow_outside=allow_outside)
    if plan is None:
        raise InputError(problems, units=units)
    return plan


def check_plan(path: str | Path, *, allow_outside: bool = False) -> tuple[Plan | None, tuple[Problem, ...]]:
    """Read a plan with its files and list every problem; the plan is None where there are any."""
    plan, problems, _ = _checked(path, allow_outside=allow_outside)
    return plan, problems


def _checked(path: str | Path, *, allow_outside: bool) -> tuple[Plan | None, tuple[Problem, ...], OutputUnits]:
    """The same with the units that the plan asks its outputs for."""
    findings = Findings()
    path = Path(path)
    shelf = Shelf(path.parent, findings, allow_outside=True)
    content = shelf.take(path.name, endings=(".toml",))
    if content is None:
        return None, tuple(findings.problems), "SI"
    shelf.allow_outside = allow_outside
    raw = read_plan_tables(path.name, content, findings)
    n_of_tables, of_settings = len(findings.problems), Findings()
    with _no_collection():
        records = read_records(raw, shelf, findings)
    settings = build_settings(path.name, raw, of_settings, records)
    findings.problems[n_of_tables:n_of_tables] = of_settings.problems  # those of the plan before those of its files
    n_said = len(findings.cautions)  # the records hold those before
    mortar_file = raw.text("maturity", "mortar")
    if mortar_file is not None:
        from planner.read.mortar_file import (  # fits curves: loaded by plans that name one alone
            read_mortar,
            with_mortar,
        )

        mortar = read_mortar(mortar_file, shelf, findings)
        if settings is not None and mortar is not None:
            settings = replace(settings, maturity=with_mortar(settings.maturity, mortar))
    if settings is not None and records is not None and not findings.problems:
        check_search_size(path.name, settings, records, findings)
    if findings.problems or settings is None or records is None:
        return None, tuple(findings.problems), raw.output_units
    settings = _with_limits(_with_geometry(settings, records), raw, records)
    doubts = (*plan_doubts(path.name, settings), *age_doubts(path.name, settings, records.breaks))
    records = replace(records, cautions=(*records.cautions, *findings.cautions[n_said:], *doubts))
    return Plan(settings=settings, records=records, name=path.name, inputs=tuple(shelf.inputs.items())), (), "SI"


def _with_geometry(settings: Settings, records: Records) -> Settings:
    """The settings with what prices need of the specimen: its concrete, and whether its ends are prepared."""
    if settings.costs is None:
        return settings
    geometry = settings.prior.geometry or geometry_of(records)
    costs = replace(settings.costs, litres_each=litres_of_one(geometry), are_ends_prepared=are_ends_prepared(geometry))
    return replace(settings, costs=costs)


def _with_limits(settings: Settings, raw: RawPlan, records: Records) -> Settings:
    """The settings with the age tolerances that are taken where the plan names none, by what is broken."""
    table = raw.tables.get("laboratory")
    own = [settings.prior.geometry] if settings.prior.geometry else [item.geometry for item in records.breaks]
    limits = limits_unless_named(dict.fromkeys(own))
    laboratory = settings.laboratory
    if laboratory is not None and isinstance(table, LaboratoryTable) and table.age_tolerances is None:
        laboratory = replace(laboratory, age_tolerances=limits)
    return replace(settings, laboratory=laboratory, limits_taken=limits)


@contextlib.contextmanager
def _no_collection() -> Iterator[None]:
    """Keep the garbage collector from walking millions of cells again and again while they are read."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
