"""Acceptance of a calibration by the site-cured companions of its own trial batch.

The curve is issued when the mean difference of the companions at the targets is within the tolerance, and no
companions depart by more than chance explains. Chance is that of the curve's own batch: with the error on a later
pour in its place a bias would hardly ever be noticed. A refused calibration is repeated, unless more companions of the
same batch may well turn the answer.

References
----------
Sidak 1967, J. Am. Stat. Assoc. 62:626: the joint chance of k normal differences, however they hang together, is at
least the product; so the limit keeps the false alarm at 5 % or below.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import ndtri

from planner.issued_curve.rules.companions import Companions, comparison_sd
from planner.issued_curve.rules.rule_limits import FALSE_ALARM, WORTH_MORE_BREAKS
from planner.resampling.errors.arithmetic import share_beyond, share_inside


class Verdict(enum.Enum):
    """What becomes of a calibration."""

    ISSUE = "issue"
    BREAK_MORE = "break more"
    REPEAT = "repeat"
    NOT_JUDGED = "not judged"  # no site-cured companions were broken


@dataclass(frozen=True, slots=True, kw_only=True)
class CompanionCheck:
    """One group of companions, judged."""

    companions: Companions
    sd: float  # of the difference, relative
    z: float  # difference in standard deviations; below 0 where the concrete was weaker than read
    is_judged: bool  # False outside the maturities of the breaks, where the curve promises nothing
    is_within_limit: bool  # as chance explains, all companions together; also where it is not judged
    is_inside_tolerance: bool  # information only
    chance_to_turn: float  # that as many companions again bring it within the limit; 1 where it is


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """The verdict on a calibration and what it rests on."""

    verdict: Verdict
    checks: tuple[CompanionCheck, ...]
    z_limit: float  # two-sided, for all judged companions together
    mean_difference: float | None  # of the companions at the targets, each target weighing the same; None: none
    is_mean_inside: bool  # within the tolerance; also where there is none to judge
    tolerance: float
    break_more: tuple[Companions, ...]  # of which more should be broken
    sound_refused_at_most: float  # upper bound on the chance that a sound calibration is refused
    own_rms: float  # error of the curve on its own batch that chance is reckoned with, relative

    @property
    def lets_rely(self) -> bool:
        """Whether safe readings may be given: where companions speak against the curve, none are."""
        return self.verdict in (Verdict.ISSUE, Verdict.NOT_JUDGED)


def accept(
    companions: Sequence[Companions], *, own_rms: float, within_test_cv: Sequence[float], tolerance: float
) -> Acceptance:
    """Judge a calibration by the companions of its own trial batch.

    Parameters
    ----------
    companions
        Groups of companions, each read at its own maturity.
    own_rms
        RMS error of the curve on its own batch, relative, nested.
    within_test_cv
        Scatter of single companions, relative, one for each group.
    tolerance
        Relative, above 0.

    Raises
    ------
    ValueError
        Where the figures do not match in number or are out of range.
    """
    if len(companions) != len(within_test_cv):
        raise ValueError(f"{len(companions)} groups of companions need as many scatters, given {len(within_test_cv)}.")
    if not 0 < tolerance < 1:
        raise ValueError(f"The tolerance lies between 0 and 1, given {tolerance}.")
    limit = z_limit(max(sum(item.is_inside for item in companions), 1))
    checks = tuple(
        _check(item, own_rms=own_rms, cv=cv, limit=limit, tolerance=tolerance)
        for item, cv in zip(companions, within_test_cv, strict=True)
    )
    mean = _AtTargets.of(companions, within_test_cv)
    verdict, more = _judge(checks, mean, own_rms=own_rms, tolerance=tolerance)
    return Acceptance(
        verdict=verdict,
        checks=checks,
        z_limit=limit,
        mean_difference=None if mean is None else mean.difference,
        is_mean_inside=mean is None or abs(mean.difference) <= tolerance,
        tolerance=tolerance,
        break_more=more,
        sound_refused_at_most=sound_refused_at_most(
            own_rms=own_rms, scatter=0.0 if mean is None else mean.scatter, tolerance=tolerance
        ),
        own_rms=own_rms,
    )


def z_limit(n_groups: int) -> float:
    """Largest departure of ``n_groups`` groups of companions that chance explains, 5 % for all of them together."""
    if n_groups < 1:
        raise ValueError(f"A limit needs one group of companions or more, given {n_groups}.")
    each = 1.0 - (1.0 - FALSE_ALARM) ** (1.0 / n_groups)
    return float(ndtri(1.0 - each / 2.0))


def sound_refused_at_most(*, own_rms: float, scatter: float, tolerance: float) -> float:
    """Upper bound on the chance that a calibration as good as usual is refused.

    The chances of the two conditions added, and the curve's own error taken as the same at all targets: companions
    that hang together otherwise can only be refused less often.

    Parameters
    ----------
    own_rms
        RMS error of the curve on its own batch, relative.
    scatter
        Variance of the mean difference at the targets from the companions' scatter, relative.
    tolerance
        Relative, above 0.
    """
    sd = math.sqrt(own_rms**2 + scatter)
    beyond_tolerance = 2.0 * float(share_beyond(0.0, sd, tolerance))
    return min(1.0, FALSE_ALARM + beyond_tolerance)


def _check(item: Companions, *, own_rms: float, cv: float, limit: float, tolerance: float) -> CompanionCheck:
    sd = comparison_sd(reading_rms=own_rms, within_test_cv=cv, n_specimens=item.n_specimens)
    z = item.difference / sd
    is_within = not item.is_inside or abs(z) <= limit
    reach = limit * comparison_sd(reading_rms=own_rms, within_test_cv=cv, n_specimens=2 * item.n_specimens)
    return CompanionCheck(
        companions=item,
        sd=sd,
        z=z,
        is_judged=item.is_inside,
        is_within_limit=is_within,
        is_inside_tolerance=abs(item.difference) <= tolerance,
        chance_to_turn=1.0
        if is_within
        else _chance_to_turn(item.difference, own_rms=own_rms, scatter=cv**2 / item.n_specimens, reach=reach),
    )


def _chance_to_turn(difference: float, *, own_rms: float, scatter: float, reach: float) -> float:
    """Chance that as many companions again bring a mean difference within reach, if the curve is as good as usual.

    Given the difference d the curve's own part is normal about ``w d``, ``w = own^2 / (own^2 + scatter)``, with
    variance ``own^2 (1 - w)``; the mean of the new companions adds their scatter, and counts half.
    """
    share = own_rms**2 / (own_rms**2 + scatter)
    middle = difference * (1.0 + share) / 2.0
    spread = 0.5 * math.sqrt(own_rms**2 * (1.0 - share) + scatter)
    return float(share_inside(middle, spread, reach))


@dataclass(frozen=True, slots=True)
class _AtTargets:
    """Mean difference at the targets: placements inside a target first, then the targets."""

    difference: float
    scatter: float  # its variance from the companions' scatter

    @classmethod
    def of(cls, companions: Sequence[Companions], within_test_cv: Sequence[float]) -> _AtTargets | None:
        by_target: dict[float, list[tuple[float, float]]] = {}
        for item, cv in zip(companions, within_test_cv, strict=True):
            if item.is_target and item.is_inside:
                by_target.setdefault(item.age_h, []).append((item.difference, cv**2 / item.n_specimens))
        if not by_target:
            return None
        n_targets = len(by_target)
        means = [sum(difference for difference, _ in values) / len(values) for values in by_target.values()]
        scatters = [sum(scatter for _, scatter in values) / len(values) ** 2 for values in by_target.values()]
        return cls(sum(means) / n_targets, sum(scatters) / n_targets**2)


def _judge(
    checks: tuple[CompanionCheck, ...], mean: _AtTargets | None, *, own_rms: float, tolerance: float
) -> tuple[Verdict, tuple[Companions, ...]]:
    beyond = [check for check in checks if not check.is_within_limit]
    is_mean_inside = mean is None or abs(mean.difference) <= tolerance
    if is_mean_inside and not beyond:
        return (Verdict.NOT_JUDGED if mean is None else Verdict.ISSUE), ()
    chances = [check.chance_to_turn for check in beyond]
    if mean is not None and not is_mean_inside:
        chances.append(_chance_to_turn(mean.difference, own_rms=own_rms, scatter=mean.scatter, reach=tolerance))
        beyond = beyond or [
            check
            for check in checks
            if check.companions.is_target and check.is_judged and not check.is_inside_tolerance
        ]
    if min(chances) < WORTH_MORE_BREAKS:
        return Verdict.REPEAT, ()
    return Verdict.BREAK_MORE, tuple(check.companions for check in beyond)
