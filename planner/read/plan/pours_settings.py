"""The table of a plan about later pours: what each may break before it is read."""

from __future__ import annotations

from planner.read.parsing.findings import Findings
from planner.read.plan.programme_tables import PoursTable
from planner.terms.labels import age_label, listed
from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.settings import Target

MOST_EARLY_AGES = 6  # more ages or specimens make more plans than anybody would weigh
MOST_EARLY_SPECIMENS = 12


def pours_from(file: str, table: PoursTable | None, target: Target, findings: Findings) -> Pours | None:
    """Check the early breaks against the targets; None without the table, or with reasons in the findings."""
    if table is None:
        return None
    n_before = len(findings.problems)
    last_h = target.ages_h[-1]
    late = [age for age in table.early_ages if age >= last_h]
    if late:
        findings.problem(
            file,
            f"{listed(age_label(age) for age in late)} is not before the last target age ({age_label(last_h)}): "
            "an early break must be known before the pour is read. Give earlier ages.",
            column="pours.early_ages",
        )
    if len(table.early_ages) > MOST_EARLY_AGES:
        findings.problem(
            file,
            f"There are {len(table.early_ages)} early ages, more than {MOST_EARLY_AGES}. Leave some out.",
            column="pours.early_ages",
        )
    fewest, most = table.specimens_per_age
    if not fewest <= table.most_specimens <= MOST_EARLY_SPECIMENS:
        findings.problem(
            file,
            f"Given {table.most_specimens}; the specimens of one pour are at least the {fewest} of one age "
            f"and at most {MOST_EARLY_SPECIMENS}.",
            column="pours.most_specimens",
        )
    if len(findings.problems) > n_before:
        return None
    return Pours(
        early_ages_h=tuple(sorted(table.early_ages)),
        specimens_per_age=(fewest, most),
        most_specimens=table.most_specimens,
        curing=table.curing,
        number=table.number,
    )
