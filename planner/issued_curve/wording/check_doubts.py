"""What in site checks looks like a slip in the file, one caution each, with the rows' values and the edit."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from itertools import pairwise
from statistics import fmean, median

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.check_oddities import checks_apart, off_by_a_factor, stronger_pours
from planner.issued_curve.rules.site_check import SiteCheck
from planner.terms.labels import age_label, listed, percent
from planner.terms.problems import Caution
from planner.terms.records import Break

MOST_LISTED = 4
# Bounds below: common practice, no source.
LEAST_REQUIRED, MOST_REQUIRED = 0.2, 2.5  # of what the curve reads at the companions' maturity
FAR_APART_US = 366 * 86_400_000_000  # between one pour and the next
FEWEST_AT_ONCE = 3  # pours of one casting time
FEWEST_EQUAL = 4  # specimens beyond the first of their check that repeat its strength, in two checks or more
FACTORS = (  # of broken over read, with what makes it
    (1 / 6.895, "strengths in ksi: multiply them by 6.895"),
    (0.444, "loads divided by the area of a 150 mm instead of a 100 mm specimen: divide by their own"),
    (0.1, "a slipped decimal point: move it"),
    (2.25, "loads divided by the area of a 100 mm instead of a 150 mm specimen: divide by their own"),
    (4.0, "a radius taken for a diameter: divide by the whole area"),
    (10.197, "strengths in kgf/cm2: divide them by 10.197"),
)
NEAR_FACTOR = 1.25
FEWEST_VOID = 2  # companions
WEAK_VOID = 0.9  # of the mean of those kept beside it


def check_doubts(
    file: str, curve: IssuedCurve, checks: Sequence[SiteCheck], breaks: Sequence[Break], *, later_rms: float
) -> Iterator[Caution]:
    """Doubts about the checks of one file.

    Parameters
    ----------
    file
        For messages.
    checks
        In order of casting, those of a pour one after the other.
    breaks
        Site-cured ones of the file.
    later_rms
        RMS error of the curve on a later pour, relative.
    """
    factors = off_by_a_factor(checks)
    yield from _of_factors(file, factors)
    inside = [check for check in checks if check.companions.is_inside and check.companions.batch not in factors]
    yield from _of_strength(file, curve, inside, later_rms)
    yield from _of_one_pour(file, inside, later_rms)
    yield from _of_equal_strengths(file, breaks)
    yield from _of_required(file, checks)


def _of_factors(file: str, factors: Mapping[str, float]) -> Iterator[Caution]:
    if not factors:
        return
    typical = median(factors.values())
    near = [said for factor, said in FACTORS if 1 / NEAR_FACTOR < typical / factor < NEAR_FACTOR]
    multiples = listed((f"{batch} {ratio:.2g} times" for batch, ratio in factors.items()), most=MOST_LISTED)
    edit = f"It may be {near[0]}." if near else "Correct their unit, the area under their load or their casting time."
    yield Caution(
        "checks-off-by-a-factor",
        f"{file}: companions broke at about one multiple of the reading at every age: {multiples}. "
        f"Batches of one mix differ by less. {edit} Until then neither rule means anything for these pours.",
    )


def _of_strength(file: str, curve: IssuedCurve, checks: Sequence[SiteCheck], later_rms: float) -> Iterator[Caution]:
    found = stronger_pours(
        checks,
        later_rms=later_rms,
        n_batches=curve.promise.n_batches,
        n_curves=0 if curve.basis == "records" else len(curve.batches),
    )
    if not found:
        return
    stronger = (
        f"{item.batch or f'all {item.n_pours} pours together'} by {percent(item.excess, digits=0)} "
        f"(sound ones seldom by more than {percent(item.limit, digits=0)})"
        for item in found
    )
    yield Caution(
        "checks-too-strong",
        f"{file}: companions broke above what the curve reads: {listed(stronger, most=MOST_LISTED)}. "
        "Strength that is not there hides a weak pour. "
        "See whether their loads, areas, ages and temperature records are their own, and correct "
        "or void the rows; where all is right, the curve reads too little and may be calibrated anew.",
    )


def _of_one_pour(file: str, checks: Sequence[SiteCheck], later_rms: float) -> Iterator[Caution]:
    found = checks_apart(checks, later_rms=later_rms)
    if not found:
        return
    apart = (
        f"{_named(item.check)} broke at {item.check.companions.broken_mpa:.1f} MPa, "
        f"{percent(abs(item.ratio - 1.0), digits=0)} {'more' if item.ratio > 1 else 'less'} than its pour's other "
        "checks let one expect"
        for item in found
    )
    yield Caution(
        "check-apart",
        f"{file}: {listed(apart, most=MOST_LISTED, between='; ')}. "
        "Concrete of one pour departs from the curve alike. "
        "See whether age, place and temperature record of these companions are their own; correct or void the rows.",
    )


def _of_equal_strengths(file: str, breaks: Sequence[Break]) -> Iterator[Caution]:
    held: dict[tuple[str, float, str], list[Break]] = defaultdict(list)
    for item in breaks:
        held[item.batch, item.age_h, item.placement].append(item)
    equal = [items for items in held.values() if len(items) > 1 and len({item.strength_mpa for item in items}) == 1]
    if len(equal) < 2 or sum(len(items) - 1 for items in equal) < FEWEST_EQUAL:
        return
    repeated = (
        f"{items[0].batch} at {age_label(items[0].age_h)} {len(items)} times {items[0].strength_mpa:.4g} MPa (row "
        f"{items[0].row})"
        for items in equal
    )
    yield Caution(
        "companions-equal",
        f"{file}: all companions of {len(equal)} checks have one strength: {listed(repeated, most=MOST_LISTED)}. "
        "Specimens never break alike so often. "
        "Where a mean was filled in, give each specimen its own strength, or the mean once.",
    )


def _of_required(file: str, checks: Sequence[SiteCheck]) -> Iterator[Caution]:
    found = [
        f"{_named(check)} {check.required_mpa:.3g} MPa (the curve reads {check.companions.read_mpa:.1f} MPa)"
        for check in checks
        if check.required_mpa is not None
        and not LEAST_REQUIRED <= check.required_mpa / check.companions.read_mpa <= MOST_REQUIRED
    ]
    found += [
        f"{_named(old)} {old.required_mpa:.3g} MPa after {young.required_mpa:.3g} MPa at "
        f"{age_label(young.companions.age_h)}"
        for young, old in _in_one_place(checks)
        if young.required_mpa is not None and old.required_mpa is not None and old.required_mpa < young.required_mpa
    ]
    if found:
        yield Caution(
            "required-unlike",
            f"{file}: strengths required that night are far from what the curve reads, or fall with age: "
            f"{listed(found, most=MOST_LISTED)}. One too small objects to nothing. See whether it is in "
            "ksi, psi or with a slipped decimal point, and write it in the unit of its heading.",
        )


def _in_one_place(checks: Sequence[SiteCheck]) -> Iterator[tuple[SiteCheck, SiteCheck]]:
    places: dict[tuple[str, str], list[SiteCheck]] = defaultdict(list)
    for check in checks:
        places[check.companions.batch, check.companions.placement].append(check)
    for held in places.values():
        yield from pairwise(sorted(held, key=lambda check: check.companions.age_h))


def void_doubts(file: str, voided: Sequence[Break], breaks: Sequence[Break]) -> Iterator[Caution]:
    """Void companions that are the weak ones of their checks: without them a weak pour looks sound.

    Parameters
    ----------
    voided, breaks
        Site-cured ones of the file, void and kept.
    """
    kept: dict[tuple[str, float, str], list[float]] = defaultdict(list)
    for item in breaks:
        kept[item.batch, item.age_h, item.placement].append(item.strength_mpa)
    beside = [
        (item, item.strength_mpa / fmean(kept[item.batch, item.age_h, item.placement]))
        for item in voided
        if item.curing == "site" and (item.batch, item.age_h, item.placement) in kept
    ]
    if len(beside) >= FEWEST_VOID and all(ratio < WEAK_VOID for _, ratio in beside):
        weak = (
            f"{item.batch} at {age_label(item.age_h)} {item.strength_mpa:.4g} MPa, {percent(1 - ratio, digits=0)} "
            f"below (row {item.row}: {item.void})"
            for item, ratio in beside
        )
        yield Caution(
            "voids-are-weak",
            f"{file}: every void companion is weaker than those kept beside it: {listed(weak, most=MOST_LISTED)}. "
            "Void a break for a fault of specimen or test alone; weak concrete is what site checks look for.",
        )


def casting_doubts(file: str, cast: Mapping[str, AbstractSet[int]]) -> Iterator[Caution]:
    """Casting times that lie years apart, or are one.

    Parameters
    ----------
    cast
        When each pour was cast [microseconds since 1970], by its rows.
    """
    first = {batch: min(times) for batch, times in cast.items() if times}
    ordered = sorted(first, key=lambda batch: first[batch])
    apart = [(young, old) for young, old in pairwise(ordered) if first[old] - first[young] > FAR_APART_US]
    if apart:
        years = ", ".join(f"{old} {_years(first[old] - first[young])} after {young}" for young, old in apart)
        yield Caution(
            "cast-far-apart",
            f"{file}: pours were cast years apart: {years}. Correct the year where it is a slip: the rules take the "
            "pours in order of casting.",
        )
    ((_, n_at_once),) = Counter(first.values()).most_common(1) or ((0, 0),)
    if n_at_once >= FEWEST_AT_ONCE:
        together = [batch for batch in first if list(first.values()).count(first[batch]) == n_at_once]
        yield Caution(
            "cast-at-once",
            f"{file}: {n_at_once} pours have one casting time ({listed(together, most=MOST_LISTED)}). "
            "Give each its own; until then their rows must be in order of casting.",
        )


def _named(check: SiteCheck) -> str:
    place = f", {check.companions.placement}," if check.companions.placement else ""
    return f"{check.companions.batch}{place} at {age_label(check.companions.age_h)}"


def _years(microseconds: int) -> str:
    return f"{microseconds / (365.25 * 86_400_000_000):.1f} years"
