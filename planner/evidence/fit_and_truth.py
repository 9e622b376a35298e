"""Which specimens of a batch a curve is fitted to, and which tell the truth it is held against: never the same.

A batch whose truth comes from site-cured companions has one view. Where the truth must come from standard-cured
specimens of an age that may also be broken, the batch has one view for each way of halving those cells, and its
errors are averaged over them. A strength that is waited for is told by the two groups that it lies between.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

from planner.evidence.reached_strength import Bracket, Group, bracket_of, groups_of
from planner.evidence.record_words import not_checked, strength_not_reached
from planner.evidence.weak_truths import WeakTruths
from planner.terms.problems import Caution
from planner.terms.records import Break
from planner.terms.results.check_condition import CheckCondition, TruthSource

MOST_SPLITS = 6  # ways of halving a cell that are averaged: all of them for four specimens
FEWEST_TO_SPLIT = 4
FEWEST_TO_SPLIT_BETWEEN = 2  # of a group beside a strength: taken out whole, it would leave a hole in every fit
IN_THE_ROOM = CheckCondition(TruthSource.STANDARD_CURED)


class Truth(NamedTuple):
    """Specimens that one reading is held against."""

    target: int  # position of the target
    specimens: list[Break]
    condition: CheckCondition
    reached: Bracket | None = None  # the whole groups, where a strength is waited for
    stronger: Sequence[Break] = ()  # of a strength: `specimens` are the weaker ones, these the stronger


@dataclass(frozen=True, slots=True)
class Parted:
    """One way of parting the specimens of one batch: a view."""

    batch: str
    fit_cells: dict[float, list[Break]]  # by age [h]
    checks: list[Truth]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be predicted, and where breaks may be."""

    ages_h: tuple[float, ...]  # of the targets [h]
    waits_mpa: tuple[float | None, ...]  # of each target: the strength waited for, or None
    candidates: frozenset[float]  # ages that may be broken [h]


def parted(
    batch: str,
    cells: dict[float, list[Break]],
    site: Mapping[tuple[float, str], list[Break]],
    wanted: Wanted,
    cautions: list[Caution],
    weak: WeakTruths,
) -> list[Parted]:
    """Views of one batch; none, and a caution, where a target has no truth.

    Parameters
    ----------
    cells
        Standard-cured breaks by age [h].
    site
        Site-cured breaks by age [h] and placement.
    weak
        Takes note of truths that are too weak to judge by: a percentage of next to nothing decides everything.
    """
    fixed: list[Truth] = []
    split_ages: dict[float, int] = {}  # and how many of their specimens at least a curve keeps
    halved: list[tuple[int, float]] = []
    waits: list[tuple[int, Bracket]] = []
    fit_cells = dict(cells)
    for position, (target, strength_mpa) in enumerate(zip(wanted.ages_h, wanted.waits_mpa, strict=True)):
        if strength_mpa is not None:
            bracket = bracket_of(groups_of(cells, site), strength_mpa)
            if bracket is None:
                means_mpa = [group.mean_mpa for group in groups_of(cells, site)]
                cautions.append(strength_not_reached(batch, strength_mpa, means_mpa))
                return []
            waits.append((position, bracket))
            for group in bracket.between:
                if group.placement is None:
                    is_offered = group.age_h in wanted.candidates
                    split_ages[group.age_h] = FEWEST_TO_SPLIT_BETWEEN if is_offered else len(group.breaks) + 1
            continue
        everyone = {key: items for key, items in site.items() if key[0] == target}
        companions = {key: items for key, items in everyone.items() if not weak.notes(batch, items, key[1])}
        if companions:
            fixed += [
                Truth(position, items, CheckCondition(TruthSource.SITE_CURED, place))
                for (_age, place), items in sorted(companions.items())
            ]
        elif everyone or (target in cells and weak.notes(batch, cells[target])):
            return []
        elif target not in cells:
            cautions.append(not_checked(batch, target))
            return []
        elif len(cells[target]) >= FEWEST_TO_SPLIT and target in wanted.candidates:
            halved.append((position, target))
            split_ages.setdefault(target, FEWEST_TO_SPLIT)
        else:
            fixed.append(Truth(position, cells[target], IN_THE_ROOM))
            fit_cells.pop(target, None)
    for age in [age for age, fewest in split_ages.items() if age in fit_cells and len(fit_cells[age]) < fewest]:
        del fit_cells[age]
    split = [age for age in split_ages if age in fit_cells]
    n_ways = min(MOST_SPLITS, max((len(_halvings(cells[age])) for age in split), default=1))
    return [
        _view(batch, cells, fit_cells, {age: _halvings(cells[age]) for age in split}, (fixed, halved, waits), share)
        for share in (which / n_ways for which in range(n_ways))
    ]


def _halvings(items: Sequence[Break]) -> list[tuple[int, ...]]:
    """Every way of taking the smaller half of some specimens for the truth."""
    return list(combinations(range(len(items)), len(items) // 2))


def _view(
    batch: str,
    cells: dict[float, list[Break]],
    fit_cells: dict[float, list[Break]],
    halvings: dict[float, list[tuple[int, ...]]],
    truths: tuple[list[Truth], list[tuple[int, float]], list[tuple[int, Bracket]]],
    share: float,
) -> Parted:
    """One way of halving the cells that tell a truth, so far along all the ways there are."""
    fixed, halved, waits = truths
    fit_cells, truth_cells = dict(fit_cells), dict(cells)
    for age, ways in halvings.items():
        items = cells[age]
        taken = ways[int(share * len(ways) + 1e-9)]
        fit_cells[age] = [item for i, item in enumerate(items) if i not in taken]
        truth_cells[age] = [items[i] for i in taken]

    def half(group: Group) -> list[Break]:
        return truth_cells[group.age_h] if group.placement is None else group.breaks

    checks = list(fixed)
    checks += [Truth(position, truth_cells[age], IN_THE_ROOM) for position, age in halved]
    checks += [
        Truth(position, half(bracket.below), _condition(bracket), reached=bracket, stronger=half(bracket.above))
        for position, bracket in waits
    ]
    return Parted(batch, fit_cells, checks)


def _condition(bracket: Bracket) -> CheckCondition:
    places = [group.placement for group in bracket.between]
    if places == [None, None]:
        return IN_THE_ROOM
    if None in places:
        return CheckCondition(TruthSource.BOTH)
    return CheckCondition(TruthSource.SITE_CURED, " to ".join(dict.fromkeys(str(place) for place in places)))
