"""The tables [[specimens]] of a plan, checked against each other and against target, prior and costs."""

from __future__ import annotations

from planner.read.parsing.findings import Findings
from planner.read.plan.plan_file import RawPlan
from planner.read.plan.plan_tables import PriorTable, TargetTable
from planner.read.plan.programme_tables import SpecimensTable
from planner.terms.plan.specimen_kinds import SpecimenKind

PRICES = ("specimen", "preparation", "break_one")


def specimens_from(file: str, plan: RawPlan, findings: Findings) -> tuple[SpecimenKind, ...]:
    """What the laboratory could cast; every fault of every entry is in the findings."""
    tables = [table for table in plan.lists.get("specimens", ()) if isinstance(table, SpecimensTable)]
    if not tables:
        return ()
    wanted = target_geometry(plan)
    if not wanted:
        findings.problem(
            file,
            f"{len(tables)} geometries could be cast, and nothing says which of them the specification speaks of. "
            'Write it in [target], like geometry = "cylinder 150x300 mm".',
            column="target.geometry",
        )
    _check_prior(file, plan, findings)
    first: dict[str, int] = {}
    for number, table in enumerate(tables, start=1):
        for text, key in _faults(table, plan, wanted):
            findings.problem(file, f"{table.geometry}: {text}", column=f"specimens.{key}")
        if table.geometry in first:
            findings.problem(
                file,
                f"{table.geometry} stands in entry {first[table.geometry]} and in entry {number}. Keep one.",
                column="specimens.geometry",
            )
        first.setdefault(table.geometry, number)
    return tuple(SpecimenKind(**{key: getattr(table, key) for key in SpecimensTable.model_fields}) for table in tables)


def target_geometry(plan: RawPlan) -> str:
    """What the specification speaks of; where one geometry alone could be cast, that one; "" where nothing tells."""
    target, tables = plan.tables.get("target"), plan.lists.get("specimens", ())
    if isinstance(target, TargetTable) and target.geometry is not None:
        return target.geometry
    return tables[0].geometry if len(tables) == 1 and isinstance(tables[0], SpecimensTable) else ""


def _check_prior(file: str, plan: RawPlan, findings: Findings) -> None:
    prior = plan.tables.get("prior")
    if isinstance(prior, PriorTable) and prior.geometry is not None:
        findings.problem(
            file,
            "A geometry is selected here, and [[specimens]] lists those that could be cast. Leave out one of them.",
            column="prior.geometry",
        )
    if isinstance(prior, PriorTable) and prior.published is not None:
        findings.problem(
            file,
            "Published growth knows no geometry. Give breaks, or leave out [[specimens]].",
            column="prior.published",
        )


def _faults(table: SpecimensTable, plan: RawPlan, wanted: str) -> list[tuple[str, str]]:
    """What is wrong with one entry, each with its key."""
    faults = []
    if (table.factor is None) != (table.factor_cv is None):
        faults.append(("a stated factor needs its scatter from batch to batch: give factor and factor_cv.", "factor"))
    if table.factor is not None and table.geometry == wanted:
        faults.append(("this is the target's geometry, so nothing is converted. Leave factor out.", "factor"))
    priced = [key for key in PRICES if getattr(table, key) is not None]
    if priced and "costs" not in plan.given:
        faults.append(("prices need a currency. Give the table [costs].", priced[0].removesuffix("_one")))
    return faults
