"""What is said of site checks: their order, and which of them are not counted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.plan_match import changed_inputs
from planner.issued_curve.rules.site_check import SiteCheck
from planner.issued_curve.wording.read_cautions import read_cautions
from planner.terms.labels import age_label, counted, listed
from planner.terms.plan.settings import Plan
from planner.terms.problems import Caution
from planner.terms.records import Break, GivenRecords


def order_cautions(cast: Mapping[str, AbstractSet[int]], file: str) -> Iterator[Caution]:
    """In which order the pours are taken, where their rows do not say it.

    Parameters
    ----------
    cast
        When each pour was cast, by its rows; none, or several where they contradict.
    """
    several = [batch for batch, times in cast.items() if len(times) > 1]
    without = [batch for batch, times in cast.items() if not times]
    if several or (without and len(without) < len(cast)):
        said = f"no casting time: {', '.join(without)}" if without else f"several: {', '.join(several)}"
        yield Caution(
            "order-of-rows",
            f"Pours of {file} have {said}. All are taken in order of their rows; give one cast_at for every pour, or "
            "see that the rows are in order of casting.",
        )
    elif not without:
        times = [min(times) for times in cast.values()]
        if times != sorted(times):
            yield Caution("ordered-by-casting", f"The rows of {file} are not in order of casting; cast_at is followed.")


def check_cautions(
    plan: Plan, curve: IssuedCurve, checks: Sequence[SiteCheck], given: GivenRecords
) -> Iterator[Caution]:
    """What has to be known of the checks of one file."""
    changed = changed_inputs(plan.inputs, curve)
    if changed:
        yield Caution(
            "inputs-changed",
            f"{', '.join(changed)} changed since the curve was issued: it is judged by what held then. Issue it anew "
            "where the change matters.",
        )
    yield from read_cautions(curve)
    planned_each = curve.promise.companions_per_check
    outside = [check.companions for check in checks if not check.companions.is_inside]
    if outside:
        places = ", ".join(f"{item.batch} at {age_label(item.age_h)}" for item in outside)
        yield Caution(
            "checks-outside",
            f"Outside the maturities or temperatures of the curve, and not counted by the lasting rule: {places}.",
        )
    alone = [item.companions for item in checks if item.companions.n_specimens < min(2, planned_each)]
    if alone:
        places = ", ".join(f"{item.batch} at {age_label(item.age_h)}" for item in alone)
        yield Caution(
            "one-companion",
            f"One companion alone was broken for {places}, where the plan has {planned_each}: a bad specimen then "
            "looks like a weak pour, and a weak pour like a bad specimen. Break them all, or add the missing rows.",
        )
    if given.records.voided:
        n_void = counted(len(given.records.voided), "void break")
        yield Caution("checks-voided", f"Left out, as {given.file} says: {n_void}.")


def required_cautions(breaks: Sequence[Break]) -> Iterator[Caution]:
    """Companions of one check with several required strengths: the highest counts, and that is said."""
    asked: dict[tuple[str, float, str], set[float]] = {}
    for item in breaks:
        if item.curing == "site" and item.required_mpa is not None:
            asked.setdefault((item.batch, item.age_h, item.placement), set()).add(item.required_mpa)
    several = [
        f"{batch} at {age_label(age_h)} ({min(values):.1f} to {max(values):.1f} MPa)"
        for (batch, age_h, _), values in asked.items()
        if len(values) > 1
    ]
    if several:
        yield Caution(
            "several-required",
            "Companions of one check have several required strengths, of which the highest counts: "
            f"{listed(several, most=4)}. Write the one that was required that night.",
        )
