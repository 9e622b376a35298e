"""Companions that differ more than chance allows. They are named, never dropped."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from planner.read.parsing.findings import Findings, listed
from planner.terms.labels import age_label, percent
from planner.terms.records import Break

# Acceptable range of 2, 3 and 4 results as a multiple of their standard deviation: ASTM C670.
# Beyond four the 95 % points of the studentised range with known deviation, recomputed in the tests.
RANGE_MULTIPLIERS = {
    2: 2.8, 3: 3.3, 4: 3.6, 5: 3.86, 6: 4.03, 7: 4.17, 8: 4.29, 9: 4.39, 10: 4.47, 11: 4.55, 12: 4.62,
    13: 4.68, 14: 4.74, 15: 4.80, 16: 4.85, 17: 4.89, 18: 4.93, 19: 4.97, 20: 5.01,
}  # fmt: skip
CV_SMALL_CYLINDER = 0.032  # 100x200 mm, laboratory, ASTM C39, from memory
CV_OTHER = 0.024  # 150x300 mm, laboratory, ASTM C39, from memory


def acceptable_range(n_companions: int, geometry: str) -> float:
    """Give the range of companions, relative to their mean, that chance exceeds once in twenty."""
    cv = CV_SMALL_CYLINDER if "100x200" in geometry else CV_OTHER
    return RANGE_MULTIPLIERS[min(n_companions, max(RANGE_MULTIPLIERS))] * cv


def note_outlying(breaks: Iterable[Break], findings: Findings) -> None:
    """Add one caution that lists all companions whose range is beyond the acceptable one."""
    cells: dict[tuple[str, str, str, float], list[Break]] = defaultdict(list)
    for item in breaks:
        cells[item.batch, item.curing, item.placement, item.age_h].append(item)
    n_cells = 0
    beyond: list[tuple[float, str]] = []
    for (batch, curing, _, age_h), companions in cells.items():
        if len(companions) < 2:
            continue
        n_cells += 1
        strengths = [item.strength_mpa for item in companions]
        spread = (max(strengths) - min(strengths)) / (sum(strengths) / len(strengths))
        allowed = acceptable_range(len(companions), companions[0].geometry)
        if spread > allowed:
            rows = listed(item.row for item in companions)
            where = f"{batch} {curing} {age_label(age_h)} (rows {rows})"
            beyond.append((allowed / spread, f"{where}: {percent(spread)}, acceptable {percent(allowed)}"))
    if beyond:
        findings.caution(
            "outlying-break",
            f"In {len(beyond)} of {n_cells} sets of companions the range is beyond what ASTM C39 and C670 "
            f"accept; about 5 % are by chance. All are used; look for a cause and void a break only for one. "
            f"The widest, range over mean: {listed([text for _, text in sorted(beyond)], most=3)}.",
        )
