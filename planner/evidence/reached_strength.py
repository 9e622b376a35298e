"""When the concrete of a batch reached a strength: between the specimens broken just below and just above it.

A target may be a strength that a site waits for. What is true of a batch is then the maturity at which its concrete had
that strength. It is read off between two means of the batch, strength against the logarithm of maturity,
site-cured companions and standard-cured breaks alike.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import NamedTuple

import numpy as np

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
    """The two groups that a strength lies between."""

    below: Group
    above: Group

    def share(self, strength_mpa: float) -> float:
        """How far the strength lies from the weaker mean towards the stronger."""
        return (strength_mpa - self.below.mean_mpa) / (self.above.mean_mpa - self.below.mean_mpa)


def bracket_of(groups: Sequence[Group], strength_mpa: float) -> Bracket | None:
    """Take the strongest group that is weaker and the weakest that is stronger; None where one is missing.

    Means closer together than `LEAST_STEP` tell scatter instead of growth: the next one is taken then.
    """
    rising = sorted(groups, key=lambda group: group.mean_mpa)
    below = [group for group in rising if group.mean_mpa <= strength_mpa]
    above = [group for group in rising if group.mean_mpa > strength_mpa]
    while below and above:
        if above[0].mean_mpa >= LEAST_STEP * below[-1].mean_mpa:
            return Bracket(below[-1], above[0])
        is_below_nearer = strength_mpa - below[-1].mean_mpa < above[0].mean_mpa - strength_mpa
        nearer, other = (below, above) if is_below_nearer else (above, below)
        dropped = nearer if len(nearer) > 1 else other
        dropped.pop(-1 if dropped is below else 0)
    return None


@dataclass(frozen=True, slots=True, eq=False)
class ReachedBetween:
    """A strength read between the truth halves of two groups; slope and place come from the whole groups."""

    maturity_h: FloatArray  # at which the strength is reached, (n_settings,)
    variance: float  # relative, in strength, from the scatter of the specimens that tell it


def reached(
    bracket: Bracket,
    telling: tuple[Sequence[Break], Sequence[Break]],
    maturity_h: tuple[FloatArray, FloatArray],
    strength_mpa: float,
    *,
    cv: tuple[float, float],
) -> ReachedBetween:
    """Interpolate strength in the logarithm of maturity.

    Parameters
    ----------
    bracket
        The two whole groups: they give the slope, since two specimens of a half would give a wild one.
    telling
        The specimens of each that tell the truth, those that no curve is fitted to.
    maturity_h
        Of the two groups under each setting, ``(n_settings,)`` each.
    cv
        Relative scatter of one specimen of each group.
    """
    share = bracket.share(strength_mpa)
    log_below, log_above = np.log(maturity_h[0]), np.log(maturity_h[1])
    step_mpa = bracket.above.mean_mpa - bracket.below.mean_mpa
    slope = np.maximum(log_above - log_below, 0.0) / step_mpa
    means = [fmean(item.strength_mpa for item in items) for items in telling]
    at = (1.0 - share) * (log_below + (strength_mpa - means[0]) * slope)
    at = at + share * (log_above + (strength_mpa - means[1]) * slope)
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
            share = bracket.share(strength_mpa)
            ages_h[batch] = bracket.below.age_h ** (1.0 - share) * bracket.above.age_h**share
    return Reach(
        strength_mpa=strength_mpa,
        age_h=float(f"{median(ages_h.values()):.3g}") if ages_h else None,
        reaching=tuple(ages_h),
        others=tuple(batch for batch in by_batch if batch not in ages_h),
        strongest_mpa=max(means, default=0.0),
        weakest_mpa=min(means, default=0.0),
    )


def curvature_error(records: Records, strength_mpa: float) -> float | None:
    """How far a straight line between two means misses the growth between them: relative RMS; None if unknown.

    Every mean is read between its two neighbours in age; half the distance makes a quarter of the miss, since it
    goes with the square of the distance. The scatter of the specimens is in it. Only means within a factor of two of
    the strength count.
    """
    by_batch: dict[str, dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in records.breaks:
        if item.curing == "standard":
            by_batch[item.batch][item.age_h].append(item)
    misses: list[float] = []
    for cells in by_batch.values():
        groups = groups_of(cells, {})
        for before, here, after in zip(groups, groups[1:], groups[2:], strict=False):
            if 0.5 <= here.mean_mpa / strength_mpa <= 2.0:
                share = np.log(here.age_h / before.age_h) / np.log(after.age_h / before.age_h)
                line = (1.0 - share) * before.mean_mpa + share * after.mean_mpa
                misses.append(float(line / here.mean_mpa - 1.0) / 4.0)
    return float(np.sqrt(np.mean(np.square(misses)))) if misses else None
