"""The least that has to be broken for one target: fewest ages, ages that must be there, bounds, constraints.

Every statement is the same comparison: the lowest error with and without a restriction, each repeated
without every batch in turn. An error is inside the tolerance when the share of batches inside reaches the
wanted assurance. It is the error of a batch read on its own concrete: break ages cannot mend how later
batches differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.results.answers import AgeBound, AgeNeed, ConstraintPrice, Need, Standing, TargetMinimum
from planner.verdict.answers.minimum.learnt_rules import learnt_rules
from planner.verdict.validation.restricted import FoldTable
from planner.verdict.validation.restricted_error import standing
from planner.verdict.wording.minimum_words import minimum_words

TOLD = 1.05  # errors closer together than 5 % are not told apart
EARLY_CONSTRAINTS = 2
LATE_CONSTRAINTS_H = (24.0, 72.0, 168.0)


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One target (or all together) with all its schedules scored."""

    table: FoldTable
    offered: IntArray  # positions of the ages that may be broken
    assurance: float
    cost: FloatArray | None  # of every schedule, (n_choices,)
    constraints: tuple[tuple[str, BoolArray], ...]  # of the laboratory: name, schedules that obey it

    @property
    def ages_h(self) -> FloatArray:
        return self.table.choices.ages_h

    def standing(self, allowed: BoolArray, *, has_later: bool = False) -> Standing | None:
        return standing(self.table, allowed, assurance=self.assurance, cost=self.cost, has_later=has_later)


def target_minimum(asked: Asked, *, age_h: float | None) -> TargetMinimum:
    """Everything one target asks for.

    Parameters
    ----------
    age_h
        The target age; None: all targets of the plan together.
    """
    table = asked.table
    everything = np.ones(len(table.choices), dtype=bool)
    free = asked.standing(everything, has_later=True)
    if free is None:
        return _unjudged(table, age_h)
    setting = table.cells.settings.index(free.maturity)
    fewest = _fewest(asked, bracketing(table, setting))
    at_target = table.cells.checks.maturity_h[setting]
    multiples, ends = _multiples(asked, setting)
    most = _most_compared(asked, fewest)
    needs = age_needs(asked, multiples, most_specimens=most)
    bounds = age_bounds(asked, multiples, ends)
    truth = table.cells.checks.truth_mpa
    return TargetMinimum(
        age_h=age_h,
        maturity_h=float(np.median(at_target)),
        maturity_span_h=(float(at_target.min()), float(at_target.max())),
        strength_mpa=(float(truth.min()), float(truth.mean()), float(truth.max())),
        n_batches=table.scoring.n_units,
        n_schedules=len(table.choices),
        unrestricted=free,
        fewest=fewest,
        ages=needs,
        most_specimens=most,
        bounds=bounds,
        constraints=_priced_constraints(asked, free, _fewest_specimens(asked, everything)),
        rules=() if age_h is None else learnt_rules(table, multiples, assurance=asked.assurance),
        sentence=minimum_words(
            age_h, free, fewest, needs, bounds, tolerance=table.scoring.tolerance, assurance=asked.assurance
        ),
    )


def _unjudged(table: FoldTable, age_h: float | None) -> TargetMinimum:
    """Nothing but the records themselves: with one batch no schedule can be held against another."""
    at_target, truth = table.cells.checks.maturity_h[0], table.cells.checks.truth_mpa
    return TargetMinimum(
        age_h=age_h,
        maturity_h=float(np.median(at_target)),
        maturity_span_h=(float(at_target.min()), float(at_target.max())),
        strength_mpa=(float(truth.min()), float(truth.mean()), float(truth.max())),
        n_batches=table.scoring.n_units,
        n_schedules=len(table.choices),
        unrestricted=None,
        fewest=None,
        ages=(),
        most_specimens=0,
        bounds=(),
        constraints=(),
        rules=(),
        sentence=minimum_words(age_h, None, None, (), (), tolerance=table.scoring.tolerance, assurance=1.0),
    )


def _fewest(asked: Asked, allowed: BoolArray) -> Standing | None:
    """Fewest ages that keep the error inside, and among those the fewest specimens."""
    for k in np.unique(asked.table.choices.n_ages):
        few = np.asarray(allowed & (asked.table.choices.n_ages <= k))
        least = asked.standing(few)
        if least is not None and least.is_inside:
            n = _fewest_specimens(asked, few)
            few &= asked.table.choices.n_specimens <= (n.schedule.n_specimens if n else 0)
            return asked.standing(few, has_later=True)
    return None


def _fewest_specimens(asked: Asked, allowed: BoolArray) -> Standing | None:
    """The lowest limit on specimens under which the error is inside."""
    n_specimens = asked.table.choices.n_specimens
    for n in np.unique(n_specimens[allowed]):
        found = asked.standing(allowed & (n_specimens <= n))
        if found is not None and found.is_inside:
            return found
    return None


def bracketing(table: FoldTable, setting: int) -> BoolArray:
    """Schedules with a break on both sides of every target's typical maturity, ``(n_choices,)``."""
    cells, choices = table.cells, table.choices
    typical = _typical(cells.views.maturity_h[setting])
    earliest, latest = _target_span(table, setting)
    members = choices.set_members.astype(np.int64)
    first = typical[members[:, 0]]
    last = typical[members[np.arange(choices.n_sets), choices.set_n_ages - 1]]
    return np.asarray(((first <= earliest) & (last >= latest))[choices.set_of])


def _target_span(table: FoldTable, setting: int) -> tuple[float, float]:
    """Typical maturity at the earliest and at the latest target [h at the reference temperature]."""
    cells = table.cells
    at = [
        float(np.median(cells.checks.maturity_h[setting][cells.checks.target == target]))
        for target in np.unique(cells.checks.target)
    ]
    return min(at), max(at)


def _multiples(asked: Asked, setting: int) -> tuple[FloatArray, tuple[float, float]]:
    """Maturity of every recorded age as a multiple of the middle target's, ``(n_recorded,)``.

    With it by what the multiples must be multiplied to be of the earliest and of the latest target.
    """
    cells = asked.table.cells
    middle = float(np.median(cells.checks.maturity_h[setting]))
    earliest, latest = _target_span(asked.table, setting)
    return _typical(cells.views.maturity_h[setting]) / middle, (middle / earliest, middle / latest)


def _typical(maturity_h: FloatArray) -> FloatArray:
    """Median over the batches that were broken at each age, NaN where none was, ``(n_recorded,)``."""
    return np.array([
        np.median(column[np.isfinite(column)]) if np.isfinite(column).any() else np.nan
        for column in maturity_h.T
    ])  # fmt: skip


def _most_compared(asked: Asked, fewest: Standing | None) -> int:
    """The fewest specimens and one age more: with plenty, a useless age would cost nothing and not show."""
    n_specimens = asked.table.choices.n_specimens
    if fewest is None:
        return int(n_specimens.max())
    per_age = min(fewest.schedule.specimens)
    return min(fewest.schedule.n_specimens + per_age, int(n_specimens.max()))


def age_needs(asked: Asked, multiples: FloatArray, *, most_specimens: int) -> tuple[AgeNeed, ...]:
    """Hold every offered age against doing without it, with the same number of specimens."""
    choices = asked.table.choices
    held = choices.set_has_age()
    is_few = np.asarray(choices.n_specimens <= most_specimens)
    needs = []
    for position in asked.offered.tolist():
        has = held[:, position][choices.set_of]
        present, absent = asked.standing(has & is_few), asked.standing(~has & is_few)
        needs.append(
            AgeNeed(
                age_h=float(asked.ages_h[position]),
                multiple=float(multiples[position]),
                need=need_of(present, absent),
                score_with=None if present is None else present.score_rms,
                score_without=None if absent is None else absent.score_rms,
                rms_with=None if present is None else present.rms,
                rms_without=None if absent is None else absent.rms,
            )
        )
    return tuple(needs)


def need_of(present: Standing | None, absent: Standing | None) -> Need:
    """Judge one age by the lowest error with it and without it.

    It must be there where the error leaves the tolerance without it, on batches left out as in the steadier
    ranking loss; it does not help where the specimens it takes are better spent elsewhere.
    """
    if present is None:
        return "does not help"
    if absent is None:
        return "must be there"
    is_worse = absent.rms > TOLD * present.rms and absent.score_rms > TOLD * present.score_rms
    if is_worse and present.is_inside and not absent.is_inside:
        return "must be there"
    return "does not help" if present.score_rms > TOLD * absent.score_rms else "may be there"


def age_bounds(asked: Asked, multiples: FloatArray, ends: tuple[float, float]) -> tuple[AgeBound, ...]:
    """The latest first break and the earliest last break that keep the error inside.

    Told as multiples of the earliest target's maturity, and of the latest target's.
    """
    choices = asked.table.choices
    first = choices.set_members[:, 0].astype(np.int64)[choices.set_of]
    last = choices.set_members[np.arange(choices.n_sets), choices.set_n_ages - 1].astype(np.int64)[choices.set_of]
    offered = asked.offered.tolist()
    bounds = [
        _bound(asked, "first break", [(p, np.asarray(first >= p)) for p in offered], multiples * ends[0]),
        _bound(asked, "last break", [(p, np.asarray(last <= p)) for p in offered[::-1]], multiples * ends[1]),
    ]
    return tuple(bound for bound in bounds if bound is not None)


def _bound(asked: Asked, which: str, steps: Sequence[tuple[int, BoolArray]], multiples: FloatArray) -> AgeBound | None:
    """Tighten step by step until the error leaves the tolerance; None where it is never inside."""
    kept: tuple[int, Standing] | None = None
    is_free = True
    for position, allowed in steps:
        found = asked.standing(allowed)
        if found is None or not found.is_inside:
            is_free = found is None  # the schedules ran out before the error left the tolerance
            break
        kept = position, found
    if kept is None:
        return None
    return AgeBound(
        which="first break" if which == "first break" else "last break",
        age_h=float(asked.ages_h[kept[0]]),
        multiple=float(multiples[kept[0]]),
        rms=kept[1].rms,
        is_free=is_free,
    )


def _priced_constraints(asked: Asked, free: Standing | None, fewest: Standing | None) -> tuple[ConstraintPrice, ...]:
    """Hold every constraint against having none."""
    priced = []
    for name, allowed in (*_age_constraints(asked), *asked.constraints):
        is_idle = bool(allowed.all())
        found = free if is_idle else asked.standing(allowed)
        least = fewest if is_idle else _fewest_specimens(asked, allowed)
        priced.append(
            ConstraintPrice(
                name=name,
                standing=found,
                rms_more=None if found is None or free is None else found.rms - free.rms,
                fewest_specimens=None if least is None else least.schedule.n_specimens,
                specimens_more=None
                if least is None or fewest is None
                else least.schedule.n_specimens - fewest.schedule.n_specimens,
                cost_more=_difference(least, fewest),
            )
        )
    return tuple(priced)


def _difference(found: Standing | None, free: Standing | None) -> float | None:
    if found is None or free is None or found.cost is None or free.cost is None:
        return None
    return found.cost - free.cost


def _age_constraints(asked: Asked) -> list[tuple[str, BoolArray]]:
    """No break before the next candidate ages, nothing after a day, three days, a week."""
    choices, ages_h = asked.table.choices, asked.ages_h
    youngest = ages_h[choices.set_members[:, 0].astype(np.int64)][choices.set_of]
    oldest = choices.last_age_h
    offered_h = ages_h[asked.offered]
    early = offered_h[1 : 1 + EARLY_CONSTRAINTS]
    late = [age for age in LATE_CONSTRAINTS_H if age < offered_h[-1]]
    return [
        *((f"no break before {age_label(float(age))}", np.asarray(youngest >= age)) for age in early),
        *((f"nothing after {age_label(age)}", np.asarray(oldest <= age)) for age in reversed(late)),
    ]
