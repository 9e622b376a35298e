"""Breaks are made a little early or late; those inside the permitted window are replicates at one age."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, digits_label, listed, percent
from planner.terms.plan.tolerances import AgeTolerances, age_tolerances
from planner.terms.records import Break

CUSTOMARY_H = (24.0, 48.0, 72.0, 168.0, 336.0, 672.0, 1344.0, 2160.0)
UNLISTED_SHARE = 0.02  # of ages that a standard does not list: ASTM C39, from memory
MEANT_WITHIN = 0.05  # a break this near a nominal age was meant for it, though outside its window
ROUND_H = 0.25  # an age that is no whole number of quarters was read off a clock
SAME_H = 1e-6


def with_nominal_ages(
    file: str,
    breaks: Sequence[Break],
    findings: Findings,
    *,
    plan_ages_h: Iterable[float],
    tolerances: str,
    is_stated: bool,
) -> tuple[Break, ...]:
    """Give every break the nominal age it belongs to, and caution of those outside the permitted window.

    Parameters
    ----------
    plan_ages_h
        Ages that the plan names [h]; with the customary ones they are what a break may be meant for.
    tolerances
        Name of the table of permitted deviations.
    is_stated
        The file states nominal beside actual ages; the nominal ones stand as they are.
    """
    table = age_tolerances(tolerances)
    nominal_h = sorted({*plan_ages_h, *CUSTOMARY_H})
    placed = tuple(item if is_stated else _placed(item, nominal_h, table) for item in breaks)
    moved = [new for old, new in zip(breaks, placed, strict=True) if new.age_h != old.age_h]
    if moved:
        ages = sorted({item.age_h for item in moved})
        findings.caution(
            "ages-gathered",
            f"{file}: {len(moved)} breaks at other ages than planned count as breaks at "
            f"{listed(age_label(age) for age in ages)}; their actual ages give their maturities.",
        )
    _note_outside(placed, table, findings)
    return placed


def _placed(item: Break, nominal_h: Sequence[float], table: AgeTolerances) -> Break:
    exact = next((age for age in nominal_h if abs(age - item.age_h) <= SAME_H), None)
    if exact is not None:
        return item if exact == item.age_h else replace(item, age_h=exact)
    nearest_h = min(nominal_h, key=lambda age: abs(math.log(age / item.age_h)))
    late_h = abs(item.age_h - nearest_h)
    is_off_clock = not _is_round(item.age_h)
    if late_h <= permitted_h(table, nearest_h) + SAME_H:
        return replace(item, age_h=nearest_h)
    if is_off_clock and late_h <= MEANT_WITHIN * nearest_h:
        return replace(item, age_h=nearest_h)
    if is_off_clock:
        step = 1.0 if item.age_h >= 6.0 else 0.5
        return replace(item, age_h=max(step, round(item.age_h / step) * step))
    return item


def _is_round(age_h: float) -> bool:
    return abs(age_h / ROUND_H - round(age_h / ROUND_H)) <= SAME_H


def permitted_h(table: AgeTolerances, age_h: float) -> float:
    """Permitted deviation at an age [h], 2 % where the table is silent."""
    deviation = table.deviation_h(age_h)
    return UNLISTED_SHARE * age_h if deviation is None else deviation


def _note_outside(breaks: Sequence[Break], table: AgeTolerances, findings: Findings) -> None:
    means = _means(breaks)
    outside: list[str] = []
    for item in breaks:
        off_h = item.tested_h - item.age_h
        allowed_h = permitted_h(table, item.age_h)
        if abs(off_h) <= allowed_h + SAME_H:
            continue
        cost = half_hour_share(means[item.batch, item.curing], item.age_h)
        worth = "" if cost is None else f", where half an hour is about {percent(cost)} of the strength"
        late = "late" if off_h > 0 else "early"
        outside.append(
            f"{item.batch} {item.curing} {age_label(item.age_h)} (row {item.row}) {digits_label(abs(off_h), 2)} h "
            f"{late}, permitted {digits_label(allowed_h, 2)} h{worth}"
        )
    if outside:
        findings.caution(
            "outside-age-window",
            f"{len(outside)} breaks lie outside the age window of {table.name}. Their actual ages give their "
            f"maturities, but they count with their replicates: {listed(outside, most=6)}.",
        )


def _means(breaks: Iterable[Break]) -> dict[tuple[str, str], dict[float, float]]:
    cells: dict[tuple[str, str], dict[float, list[float]]] = defaultdict(lambda: defaultdict(list))
    for item in breaks:
        cells[item.batch, item.curing][item.age_h].append(item.strength_mpa)
    return {
        place: {age: sum(strengths) / len(strengths) for age, strengths in sorted(by_age.items())}
        for place, by_age in cells.items()
    }


def half_hour_share(mean_mpa: dict[float, float], age_h: float) -> float | None:
    """What half an hour changes at an age, as a share of the strength there.

    The slope is that of the batch's own means over the logarithm of age, between the neighbouring ages.

    Parameters
    ----------
    mean_mpa
        Mean strength [MPa] by age [h], rising ages.

    Returns
    -------
    float or None
        None where the batch has one age only.
    """
    ages = list(mean_mpa)
    place = ages.index(age_h)
    before, after = ages[max(place - 1, 0)], ages[min(place + 1, len(ages) - 1)]
    if before == after:
        return None
    slope = (mean_mpa[after] - mean_mpa[before]) / math.log(after / before)  # per unit of ln age
    return 0.5 / age_h * slope / mean_mpa[age_h]
