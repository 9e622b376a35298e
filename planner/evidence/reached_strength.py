"""When the concrete of a batch reached a strength: between the specimens broken just below and just above it.

A target may be a strength that a site waits for. What is true of a batch is then the maturity at which its concrete had
that strength. It is read off between two means of the batch, strength against the logarithm of maturity,
site-cured companions and standard-cured breaks alike, along a monotone cubic: the means next to the two say how the
growth bends between them. A straight line missed invented growth by 1.2 to 1.5 % of 20 and 25 MPa, the cubic by 0.1 %.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import NamedTuple

import numpy as np

from planner.evidence.growth_between import along_growth, strength_along
from planner.terms.arrays import FloatArray
from planner.terms.records import Break, Records

LEAST_STEP = 1.10  # of the two means that a strength is read between, the stronger over the weaker


class Group(NamedTuple):
    """Replicates of one batch that a strength may be read between."""

    age_h: float
    placement: str | None  # None: standard-cured
    breaks: list[Break]

    @property
    def mean_mpa(self) -> float:
        return fmean(item.strength_mpa for item in self.breaks)


class Bracket(NamedTuple):
    """The two groups that a strength lies between, and the standard-cured ones next to them."""

    below: Group
    above: Group
    before: Group | None = None  # weaker than `below`; None where nothing was broken so early
    after: Group | None = None  # stronger than `above`

    def share(self, strength_mpa: float) -> float:
        """How far the strength lies from the weaker mean towards the stronger."""
        return (strength_mpa - self.below.mean_mpa) / (self.above.mean_mpa - self.below.mean_mpa)

    @property
    def between(self) -> tuple[Group, Group]:
        return (self.below, self.above)

    @property
    def rising(self) -> tuple[Group | None, Group, Group, Group | None]:
        return (self.before, self.below, self.above, self.after)

    @property
    def means_mpa(self) -> FloatArray:
        """From the weakest to the strongest, NaN where there is no group, ``(4,)``."""
        return np.array([np.nan if group is None else group.mean_mpa for group in self.rising])

    def logs(self, maturity_of: Callable[[Sequence[Break]], FloatArray]) -> FloatArray:
        """Logarithms of their maturities under each setting, NaN where there is no group, ``(4, n_settings)``."""
        held = {at: np.log(maturity_of(group.breaks)) for at, group in enumerate(self.rising) if group is not None}
        logs = np.full((4, len(held[1])), np.nan)
        for at, row in held.items():
            logs[at] = row
        return logs

    def with_breaks(self, below: Sequence[Break], above: Sequence[Break]) -> Bracket:
        """The same with other specimens of the two groups."""
        return self._replace(
            below=self.below._replace(breaks=list(below)), above=self.above._replace(breaks=list(above))
        )


def bracket_of(groups: Sequence[Group], strength_mpa: float) -> Bracket | None:
    """Take the strongest group that is weaker and the weakest that is stronger; None where one is missing.

    Means closer together than `LEAST_STEP` tell scatter instead of growth: the next one is taken then.
    """
    rising = sorted(groups, key=lambda group: group.mean_mpa)
    below = [group for group in rising if group.mean_mpa <= strength_mpa]
    above = [group for group in rising if group.mean_mpa > strength_mpa]
    while below and above:
        if above[0].mean_mpa >= LEAST_STEP * below[-1].mean_mpa:
            return Bracket(below[-1], above[0], *_beside(rising, below[-1], above[0]))
        is_below_nearer = strength_mpa - below[-1].mean_mpa < above[0].mean_mpa - strength_mpa
        nearer, other = (below, above) if is_below_nearer else (above, below)
        dropped = nearer if len(nearer) > 1 else other
        dropped.pop(-1 if dropped is below else 0)
    return None


def _beside(rising: Sequence[Group], below: Group, above: Group) -> tuple[Group | None, Group | None]:
    """The next weaker and the next stronger standard-cured group, each the least step away."""
    standard = [group for group in rising if group.placement is None]
    weaker = [group for group in standard if LEAST_STEP * group.mean_mpa <= below.mean_mpa]
    stronger = [group for group in standard if group.mean_mpa >= LEAST_STEP * above.mean_mpa]
    return (weaker[-1] if weaker else None), (stronger[0] if stronger else None)


@dataclass(frozen=True, slots=True, eq=False)
class ReachedBetween:
    """A strength read between the truth halves of two groups; slope and place come from the whole groups."""

    maturity_h: FloatArray  # at which the strength is reached, (n_settings,)
    variance: float  # relative, in strength, from the scatter of the specimens that tell it


def reached(
    bracket: Bracket,
    telling: tuple[Sequence[Break], Sequence[Break]],
    maturity_of: Callable[[Sequence[Break]], FloatArray],
    strength_mpa: float,
    *,
    cv: tuple[float, float],
) -> ReachedBetween:
    """Interpolate strength over the logarithm of maturity.

    Parameters
    ----------
    bracket
        The whole groups: they give growth and slope, since two specimens of a half would give a wild one.
    telling
        The specimens of the two groups that tell the truth, those that no curve is fitted to.
    maturity_of
        Maturity of some replicates under each setting, ``(n_settings,)``.
    cv
        Relative scatter of one specimen of each of the two groups.
    """
    share = bracket.share(strength_mpa)
    told = bracket.with_breaks(*telling)
    place, rate = along_growth(told.logs(maturity_of), bracket.means_mpa, strength_mpa)
    means = [fmean(item.strength_mpa for item in items) for items in telling]
    off_mpa = (1.0 - share) * (means[0] - bracket.below.mean_mpa) + share * (means[1] - bracket.above.mean_mpa)
    at = place - off_mpa / rate
    parts = [
        (weight * scatter * mean / strength_mpa) ** 2 / len(items)
        for weight, scatter, mean, items in zip((1.0 - share, share), cv, means, telling, strict=True)
    ]
    return ReachedBetween(maturity_h=np.exp(at), variance=sum(parts))


def groups_of(
    standard: Mapping[float, list[Break]], site: Mapping[tuple[float, str], list[Break]]
) -> tuple[Group, ...]:
    """All replicates of one batch, standard-cured ones by age, site-cured ones by age and placement."""
    return (
        *(Group(age, None, items) for age, items in sorted(standard.items())),
        *(Group(age, placement, items) for (age, placement), items in sorted(site.items())),
    )


@dataclass(frozen=True, slots=True)
class Reach:
    """When the batches of the records reach a strength under standard curing."""

    strength_mpa: float
    age_h: float | None  # median over batches [h]; None where none reaches it
    reaching: tuple[str, ...]  # batches broken on both sides of it
    others: tuple[str, ...]  # never that strong, or never broken weaker
    strongest_mpa: float  # mean of the strongest group of the records
    weakest_mpa: float  # mean of the weakest one


def reach(records: Records, strength_mpa: float) -> Reach:
    """Read the age off the standard-cured means of every batch."""
    by_batch: dict[str, dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in records.breaks:
        if item.curing == "standard":
            by_batch[item.batch][item.age_h].append(item)
    ages_h: dict[str, float] = {}
    means: list[float] = []
    for batch, cells in by_batch.items():
        groups = groups_of(cells, {})
        means += [group.mean_mpa for group in groups]
        bracket = bracket_of(groups, strength_mpa)
        if bracket is not None and bracket.below.age_h < bracket.above.age_h:
            logs = bracket.logs(lambda breaks: np.array([breaks[0].age_h]))
            ages_h[batch] = float(np.exp(along_growth(logs, bracket.means_mpa, strength_mpa)[0][0]))
    return Reach(
        strength_mpa=strength_mpa,
        age_h=float(f"{median(ages_h.values()):.3g}") if ages_h else None,
        reaching=tuple(ages_h),
        others=tuple(batch for batch in by_batch if batch not in ages_h),
        strongest_mpa=max(means, default=0.0),
        weakest_mpa=min(means, default=0.0),
    )


def interpolation_error(records: Records, strength_mpa: float) -> float | None:
    """How far the cubic between two means misses the growth between them: relative RMS; None if unknown.

    Every mean is read from its neighbours in age, two on either side where there are so many. They lie twice as far
    apart as those that a truth is read between; the miss goes with the square of the distance or a higher power, so a
    quarter of it is told. The scatter of the specimens is in it. Only means within a factor of two of the strength
    count.
    """
    by_batch: dict[str, dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in records.breaks:
        if item.curing == "standard":
            by_batch[item.batch][item.age_h].append(item)
    misses: list[float] = []
    for cells in by_batch.values():
        groups = [(np.log(age_h), fmean(item.strength_mpa for item in items)) for age_h, items in sorted(cells.items())]
        for at in range(1, len(groups) - 1):
            log, mean_mpa = groups[at]
            if 0.5 <= mean_mpa / strength_mpa <= 2.0:
                beside = [
                    groups[k] if 0 <= k < len(groups) else (np.nan, np.nan) for k in (at - 2, at - 1, at + 1, at + 2)
                ]
                logs, means = np.array(beside).T
                misses.append(float(strength_along(logs[:, None], means, np.array([log]))[0] / mean_mpa - 1.0) / 4.0)
    return float(np.sqrt(np.mean(np.square(misses)))) if misses else None
