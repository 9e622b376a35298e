"""Which columns a break file has, and whether they are enough."""

from __future__ import annotations

from collections.abc import Collection

from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Table
from planner.read.tabular.headings import Column, Synonyms, match_headings, missing_text, report_slips
from planner.terms.labels import listed

AGE_COLUMNS = ("age_h", "age_d", "age")
STRENGTH_COLUMNS = ("strength_mpa", "strength_psi", "strength_ksi")
ACTUAL_COLUMNS = ("tested_at", "tested_h")
REQUIRED_COLUMNS = ("required_mpa", "required_psi", "required_ksi")
LOAD_COLUMNS = ("load_kn", "load_lbf")
SIZE_COLUMNS = ("diameter_mm", "side_mm", "height_mm")

BREAK_COLUMNS: Synonyms = {
    "batch": Column("concrete cast together; the unit that is left out", ("batch_id", "batch_no", "batch_number")),
    "mix": Column("its recipe; without the column all batches count as one mix", ("mix_id", "mix_no", "mix_design")),
    "specimen": Column("label of the specimen", ("specimen_id", "specimen_no", "label")),
    "geometry": Column("like cylinder 100x200 mm or cube 100 mm", ("specimen_geometry", "shape")),
    "curing": Column(
        "standard (lab, water), site (field), heat, match, insulated or sealed", ("curing_type", "curing_condition")
    ),
    "age_h": Column("nominal age [h]", ("age_hours", "age_hour", "age_hr", "age_hrs")),
    "age_d": Column("nominal age [d]", ("age_days", "age_day")),
    "age": Column("nominal age with its unit, like 12 h or 3 d", ("test_age", "nominal_age")),
    "strength_mpa": Column(
        "strength [MPa]; N/mm2 is the same", ("strength_in_mpa", "compressive_strength_mpa", "fc_mpa")
    ),
    "strength_psi": Column("strength [psi]", ("strength_in_psi", "compressive_strength_psi", "fc_psi")),
    "strength_ksi": Column("strength [ksi]", ("strength_in_ksi", "compressive_strength_ksi", "fc_ksi")),
    "load_kn": Column(
        "load at failure [kN], instead of a strength; with the sizes", ("maximum_load_kn", "failure_load_kn")
    ),
    "load_lbf": Column(
        "load at failure [lbf], instead of a strength; with the sizes",
        ("load_lb", "maximum_load_lbf", "failure_load_lbf"),
    ),
    "diameter_mm": Column("diameter of the cylinder [mm]"),
    "side_mm": Column("side of the cube or prism [mm]"),
    "height_mm": Column("height of the specimen [mm]"),
    "tested_at": Column("when it was broken, as a clock time; needs the casting time", ("broken_at", "test_time")),
    "tested_h": Column("actual age [h]", ("actual_age_h", "age_at_test_h")),
    "placement": Column("which temperature record serves it, where batch and curing have several"),
    "property": Column("which strength it is, where the table holds several"),
    "void": Column("a reason; the break is listed and counted, not used", ("void_reason",)),
    "maturity": Column("maturity at the break, where there is no temperature record; for breaks after the plan"),
    "cast_at": Column("when the pour was cast, as a clock time; orders site checks"),
    "required_mpa": Column("strength asked of the pour that night [MPa]; for site checks"),
    "required_psi": Column("the same [psi]"),
    "required_ksi": Column("the same [ksi]"),
}


def has_break_columns(headings: tuple[str, ...]) -> bool:
    """Tell whether a sheet with these headings holds break records."""
    names = match_headings("", headings, BREAK_COLUMNS, Findings())
    return (
        "batch" in names
        and any(name in names for name in (*AGE_COLUMNS, *ACTUAL_COLUMNS))
        and any(name in names for name in (*STRENGTH_COLUMNS, *LOAD_COLUMNS))
    )


def find_break_columns(table: Table, findings: Findings) -> dict[str, int] | None:
    """Find the known columns of a break file.

    Returns
    -------
    dict or None
        Canonical column -> position; None, with the reasons in the findings, where a needed one is
        missing, doubled or misspelt beyond guessing.
    """
    n_before = len(findings.problems)
    names = match_headings(table.file, table.headings, BREAK_COLUMNS, findings)
    absent = _absent(names)
    meant = report_slips(table.file, table.headings, BREAK_COLUMNS, absent, findings)
    if "batch" not in names and "batch" not in meant:
        findings.problem(table.file, missing_text("batch", table.headings))
    _one_of(table, names, meant, AGE_COLUMNS, "age", findings, instead=ACTUAL_COLUMNS)
    _no_two(table, names, ACTUAL_COLUMNS, "actual age", findings)
    _no_two(table, names, LOAD_COLUMNS, "load", findings)
    _no_two(table, names, REQUIRED_COLUMNS, "required strength", findings)
    _one_of(table, names, meant, STRENGTH_COLUMNS, "strength", findings, instead=LOAD_COLUMNS)
    return names if len(findings.problems) == n_before else None


def _absent(names: Collection[str]) -> list[str]:
    """Columns that a misspelt heading could mean: not there, and no other column does their work."""
    absent = [
        name
        for name in ("batch", "mix", "specimen", "geometry", "curing", "placement", "void", "property")
        if name not in names
    ]
    if not any(name in names for name in (*AGE_COLUMNS, *ACTUAL_COLUMNS)):
        absent += [*AGE_COLUMNS, *ACTUAL_COLUMNS]
    if not any(name in names for name in (*STRENGTH_COLUMNS, *LOAD_COLUMNS)):
        absent += [*STRENGTH_COLUMNS, *LOAD_COLUMNS]
    if any(name in names for name in LOAD_COLUMNS):
        absent += [name for name in SIZE_COLUMNS if name not in names]
    return absent


def _one_of(
    table: Table,
    names: Collection[str],
    meant: Collection[str],
    choices: tuple[str, ...],
    what: str,
    findings: Findings,
    *,
    instead: tuple[str, ...],
) -> None:
    _no_two(table, names, choices, what, findings)
    given = [name for name in choices if name in names]
    if not given and not any(name in names or name in meant for name in (*choices, *instead)):
        findings.problem(
            table.file,
            f"There is no {what} column. Give one of {listed(choices)}. "
            f"The headings are: {listed(heading or '(blank)' for heading in table.headings)}.",
        )


def _no_two(table: Table, names: Collection[str], choices: tuple[str, ...], what: str, findings: Findings) -> None:
    given = [name for name in choices if name in names]
    if len(given) > 1:
        findings.problem(table.file, f"There are {len(given)} {what} columns ({listed(given)}). Keep one of them.")
