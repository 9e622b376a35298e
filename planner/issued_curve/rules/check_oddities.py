"""Site checks that depart from their curve as a slip in the file does: too strong, by a factor, or unlike their pour.

Differences are logarithms of broken over read. What a pour departs by is spread as the error on a later pour says, of
which the curve's own part is shared by all pours; the checks of one pour share most of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, fmean
from typing import Final

from planner.issued_curve.rules.site_check import SiteCheck, pours_of

# Share of sound files in which either doubt is raised if departures are normal, divided among pours or checks.
DOUBTED: Final = 0.01
# Of what a pour departs by, what its checks depart by from one another: found on redrawn pours of the demo.
SHARE_WITHIN = 0.5
FACTOR = 1.6  # broken over read at every check of a pour, or its inverse: more than batches of one mix differ by
ALIKE_RATIOS = 1.3  # largest over smallest of them


@dataclass(frozen=True, slots=True, kw_only=True)
class OddPour:
    """A pour whose companions broke further above the readings than sound pours do, or all pours together."""

    batch: str  # "" for all pours together
    n_pours: int
    excess: float  # broken over read less 1, geometric mean
    limit: float  # that sound ones pass once in so many files


@dataclass(frozen=True, slots=True, kw_only=True)
class OddCheck:
    """A check that departs from the others of its pour."""

    check: SiteCheck
    ratio: float  # its broken over read, by that of the others


def off_by_a_factor(checks: Sequence[SiteCheck]) -> dict[str, float]:
    """Ratio of broken to read of the pours that are far off by about the same factor at every check."""
    found = {}
    for of_pour in pours_of(checks):
        ratios = [1.0 + check.companions.difference for check in of_pour]
        is_far = min(ratios) > FACTOR or max(ratios) < 1.0 / FACTOR
        if is_far and max(ratios) <= ALIKE_RATIOS * min(ratios):
            found[of_pour[0].companions.batch] = math.exp(fmean(map(math.log, ratios)))
    return found


def stronger_pours(checks: Sequence[SiteCheck], *, later_rms: float, n_batches: int, n_curves: int) -> list[OddPour]:
    """Pours that broke too strong, else all of them together.

    Parameters
    ----------
    checks
        Inside the range of the curve, those of a pour one after the other.
    later_rms
        RMS error of the curve on a later pour, relative.
    n_batches
        Earlier batches that this error was learnt from.
    n_curves
        Trial batches behind the curve: with one, half of a pour's departure is the curve's.
    """
    from scipy.special import stdtrit

    pours = pours_of(checks)
    n_freedom = max(1, n_batches - 1)
    means = [fmean(math.log1p(check.companions.difference) for check in of_pour) for of_pour in pours]
    scatters = [sum(check.scatter for check in of_pour) / len(of_pour) ** 2 for of_pour in pours]
    each = float(stdtrit(n_freedom, 1.0 - DOUBTED / max(1, len(pours))))
    found = []
    for of_pour, mean, scatter in zip(pours, means, scatters, strict=True):
        limit = each * math.sqrt(later_rms**2 + scatter)
        if mean > limit:
            found.append(
                OddPour(
                    batch=of_pour[0].companions.batch,
                    n_pours=1,
                    excess=math.expm1(mean),
                    limit=math.expm1(limit),
                )
            )
    if found or len(pours) < 2:
        return found
    shared = 1.0 / (n_curves + 1.0)
    own = (1.0 - shared) * later_rms**2 / len(pours) + sum(scatters) / len(pours) ** 2
    limit = float(stdtrit(n_freedom, 1.0 - DOUBTED)) * math.sqrt(shared * later_rms**2 + own)
    mean = fmean(means)
    if mean > limit:
        found.append(OddPour(batch="", n_pours=len(pours), excess=math.expm1(mean), limit=math.expm1(limit)))
    return found


def checks_apart(checks: Sequence[SiteCheck], *, later_rms: float) -> list[OddCheck]:
    """The check of each pour that departs most from its others, where that is more than scatter explains.

    Parameters
    ----------
    checks, later_rms
        As in :func:`stronger_pours`.
    """
    several = [of_pour for of_pour in pours_of(checks) if len(of_pour) > 1]
    n_checks = sum(map(len, several))
    if not n_checks:
        return []
    limit = NormalDist().inv_cdf(1.0 - DOUBTED / (2.0 * n_checks))
    found = []
    for of_pour in several:
        logs = [math.log1p(check.companions.difference) for check in of_pour]
        apart: list[tuple[float, SiteCheck, float]] = []
        for place, check in enumerate(of_pour):
            others = [log for at, log in enumerate(logs) if at != place]
            rest = [other.scatter for other in of_pour if other is not check]
            scatter = check.scatter + sum(rest) / len(rest) ** 2
            departure = logs[place] - fmean(others)
            sd = math.sqrt((SHARE_WITHIN * later_rms) ** 2 + scatter)
            apart.append((abs(departure) / sd, check, departure))
        furthest, check, departure = max(apart, key=lambda item: item[0])
        if furthest > limit:
            found.append(OddCheck(check=check, ratio=math.exp(departure)))
    return found
