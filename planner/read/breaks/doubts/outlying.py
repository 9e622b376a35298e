"""Replicates that differ more than chance allows. They are named, never dropped."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from statistics import fmean, median

from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, listed, percent
from planner.terms.plan.precision import RANGE_MULTIPLIERS, Precision, stated_precision
from planner.terms.records import Break

# Median of the range of 2, 3, ... normal values in standard deviations, recomputed in the tests.
RANGE_MEDIANS = {2: 0.954, 3: 1.588, 4: 1.978, 5: 2.257, 6: 2.472, 7: 2.645, 8: 2.791}
FEWEST_SETS = 6  # sets of one geometry from which their own scatter is taken; common practice, no source


def acceptable_range(n_replicates: int, within_test_cv: float) -> float:
    """Give the range of replicates, relative to their mean, that chance exceeds once in twenty."""
    return RANGE_MULTIPLIERS[min(n_replicates, max(RANGE_MULTIPLIERS))] * within_test_cv


def usual_cv(spreads: Iterable[tuple[int, float]]) -> float | None:
    """Within-test CV of sets of one geometry from their middle range, which a few wild sets do not move.

    Parameters
    ----------
    spreads
        Number of replicates and range over mean of each set.
    """
    found = [spread / RANGE_MEDIANS[min(n, max(RANGE_MEDIANS))] for n, spread in spreads]
    return median(found) if len(found) >= FEWEST_SETS else None


def note_outlying(breaks: Iterable[Break], findings: Findings) -> None:
    """Add one caution that lists all replicates whose range is beyond the acceptable one.

    Sets of a geometry and strength that a precision statement covers are held to it, others to their own usual scatter.
    """
    sets: dict[tuple[str, Precision | None], list[tuple[float, list[Break]]]] = defaultdict(list)
    for replicates in _replicates(breaks):
        strengths = [item.strength_mpa for item in replicates]
        mean_mpa, geometry = fmean(strengths), replicates[0].geometry
        spread = (max(strengths) - min(strengths)) / mean_mpa
        stated = stated_precision(geometry)
        covers = stated is not None and stated.strengths_mpa[0] <= mean_mpa <= stated.strengths_mpa[1]
        sets[geometry, stated if covers else None].append((spread, replicates))
    beyond: list[tuple[float, str]] = []
    n_judged, held_to = 0, set()
    for (geometry, stated), found in sets.items():
        cv = stated.within_test_cv if stated else usual_cv((len(items), spread) for spread, items in found)
        if cv is None or cv == 0.0:
            continue
        n_judged += len(found)
        usual = f"the usual scatter of {geometry or 'these sets'}"
        held_to.add(f"the precision of {stated.source}" if stated else usual)
        for spread, items in found:
            allowed = acceptable_range(len(items), cv)
            if spread > allowed:
                where = f"{items[0].batch} {items[0].curing} {age_label(items[0].age_h)}"
                rows = listed(item.row for item in items)
                text = f"{where} (rows {rows}): {percent(spread)}, acceptable {percent(allowed)}"
                beyond.append((allowed / spread, text))
    if beyond:
        n_sets = sum(map(len, sets.values()))
        unjudged = "" if n_judged == n_sets else f" that can be judged, of {n_sets},"
        findings.caution(
            "outlying-break",
            f"In {len(beyond)} of {n_judged} sets of replicates{unjudged} the range is beyond the acceptable one "
            f"(ASTM C670, from {' and '.join(sorted(held_to))}); about 5 % would be so by chance. All are used; "
            "look for a cause and void a break only for one. "
            f"The widest, range over mean: {listed([text for _, text in sorted(beyond)], most=3)}.",
        )


def _replicates(breaks: Iterable[Break]) -> Iterable[list[Break]]:
    """Specimens of one batch, curing, placement and geometry broken together at one age, two or more."""
    sets: dict[tuple[str, str, str, str, float], list[Break]] = defaultdict(list)
    for item in breaks:
        sets[item.batch, item.curing, item.placement, item.geometry, item.age_h].append(item)
    return (items for items in sets.values() if len(items) > 1)
