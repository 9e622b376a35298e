"""The table of a plan about its targets: ages that are read, strengths that a site waits for."""

from __future__ import annotations

from planner.evidence.reached_strength import reach
from planner.read.parsing.findings import Findings
from planner.read.plan.plan_tables import TargetTable
from planner.terms.labels import listed, percent, strength_label
from planner.terms.plan.settings import Target
from planner.terms.records import Records


def target_from(file: str, table: TargetTable | None, records: Records | None, findings: Findings) -> Target | None:
    """Check ages, strengths and weights together; None, with the reasons in the findings, where that fails.

    Parameters
    ----------
    records
        They tell when a strength that is waited for is reached; None where they have faults of their own.
    """
    if table is None:
        return None
    weights = table.weights
    n_targets = len(table.ages) + len(table.strengths)
    if n_targets == 0:
        findings.problem(
            file,
            'Neither ages nor strengths are given. Write the ages to be predicted, ages = ["16 h"], or the '
            'strengths that the site waits for, strengths = ["20 MPa"].',
            column="target.ages",
        )
        return None
    if weights and len(weights) != n_targets:
        what = "target ages" if not table.strengths else "target ages and strengths"
        findings.problem(
            file,
            f"There are {len(weights)} weights for {n_targets} {what}. Give one each, or none.",
            column="target.weights",
        )
        return None
    if any(weight <= 0 for weight in weights):
        findings.problem(
            file,
            f"Given {listed(f'{weight:g}' for weight in weights)}; every weight must be above 0.",
            column="target.weights",
        )
        return None
    if table.immaterial is not None and table.immaterial >= table.tolerance:
        findings.problem(
            file,
            f"Given {percent(table.immaterial)} with a tolerance of {percent(table.tolerance)}; a difference as large "
            "as the tolerance is not immaterial. Give less, or leave it out for one fortieth of the tolerance.",
            column="target.immaterial",
        )
        return None
    if table.strengths and (records is None or not records.breaks):
        if records is not None:
            findings.problem(
                file,
                "A strength that the site waits for needs broken batches: without them nothing tells when it is "
                "reached. Give [prior] breaks, or ask for ages.",
                column="target.strengths",
            )
        return None
    ages_reached_h = {} if records is None else _ages_reached(file, table.strengths, records, findings)
    if ages_reached_h is None:
        return None
    asked: list[tuple[float, float | None]] = [(age, None) for age in table.ages]
    asked += [(ages_reached_h[strength_mpa], strength_mpa) for strength_mpa in table.strengths]
    order = sorted(range(n_targets), key=lambda place: asked[place][0])
    return Target(
        ages_h=tuple(asked[place][0] for place in order),
        strengths_mpa=tuple(asked[place][1] for place in order) if table.strengths else (),
        tolerance=table.tolerance,
        assurance=table.assurance,
        weights=tuple(weights[place] for place in order) if weights else (),
        combine=table.combine,
        over_prediction_weight=table.over_prediction_weight,
        judged_on=table.judged_on,
        immaterial=table.immaterial,
    )


def _ages_reached(
    file: str, strengths_mpa: tuple[float, ...], records: Records, findings: Findings
) -> dict[float, float] | None:
    """When the records typically reach each strength [h]; None, with reasons in the findings, where one is beyond."""
    found = [reach(records, strength_mpa) for strength_mpa in strengths_mpa]
    for one in found:
        if one.age_h is None:
            wanted = strength_label(one.strength_mpa)
            why = (
                f"No batch of the records was ever that strong: the strongest mean is {one.strongest_mpa:.1f} MPa. "
                "Beyond it nothing can be said; give a strength that was reached"
                if one.strongest_mpa <= one.strength_mpa
                else f"No batch was broken on both sides of it: the weakest mean is {one.weakest_mpa:.1f} MPa. Give a "
                "strength between breaks of one batch"
            )
            findings.problem(file, f"{wanted} cannot be predicted. {why}.", column="target.strengths")
    if any(one.age_h is None for one in found):
        return None
    return {one.strength_mpa: one.age_h for one in found if one.age_h is not None}
