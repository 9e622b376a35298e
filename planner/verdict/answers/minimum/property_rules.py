"""What every programme that keeps the target has, where no single age has to be there.

Three properties are looked at: how late the first break is, how early the last, how far the nearest break is from the
target's maturity. A property binds where every allowed programme that keeps the target has it and some allowed one has
not. It is learnt again without each batch and then held against that batch: right where programmes that have it are
read closer there than the others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling.errors.later_pours.judged_programmes import judge, judge_by_unit
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.results.minimum.minimum_figures import Property, PropertyRule
from planner.verdict.answers.minimum.allowed_programmes import AllowedProgrammes
from planner.verdict.answers.minimum.spans import Spans

MOST_RULES = 2
FEWEST_UNITS = 3
SAME = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """One property of every set of ages: the larger, the worse; NaN where it cannot be told."""

    of: Property
    value: FloatArray  # (n_sets,), or of some schedules

    def bound(self, is_keeping: BoolArray) -> float:
        """The worst among those that keep the target."""
        return float(np.nanmax(self.value[is_keeping]))

    def has(self, bound: float) -> BoolArray:
        return np.asarray(self.value <= bound + SAME)


def property_rules(allowed: AllowedProgrammes, spans: Spans) -> tuple[PropertyRule, ...]:
    """The properties that bind most, two at most; () where none binds or nothing keeps the target."""
    counts = allowed.counted.by_set
    keeping = np.asarray(counts.keeping_schedules > 0)
    if not keeping.any():
        return ()
    binding = []
    for measured in _properties(allowed, spans):
        bound = measured.bound(keeping)
        n_having = int(counts.schedules[measured.has(bound)].sum())
        if np.isfinite(bound) and n_having < counts.schedules.sum():
            binding.append((n_having, measured, bound))
    binding.sort(key=lambda item: item[0])
    return tuple(
        _rule(allowed, spans, measured, bound, n_having=n_having) for n_having, measured, bound in binding[:MOST_RULES]
    )


def _properties(allowed: AllowedProgrammes, spans: Spans) -> tuple[_Measured, ...]:
    choices = allowed.choices
    members = choices.set_members.astype(np.int64)
    octaves = np.where(members >= 0, np.log2(spans.multiples)[members], np.nan)
    earliest, latest = (np.log2(end / spans.middle_h) for end in spans.target_h)
    last = octaves[np.arange(choices.n_sets), choices.set_n_ages - 1]
    distance = np.nanmax(
        [np.nanmin(np.abs(octaves - target), axis=1) for target in {earliest, latest}], axis=0
    )  # of several targets the one that is served worst
    by_set: tuple[tuple[Property, FloatArray], ...] = (
        ("first break", octaves[:, 0] - earliest),
        ("last break", latest - last),
        ("nearest break", np.asarray(distance)),
    )
    return tuple(_Measured(of, values) for of, values in by_set)


def _rule(
    allowed: AllowedProgrammes, spans: Spans, measured: _Measured, bound: float, *, n_having: int
) -> PropertyRule:
    n_held_out, n_right = _held_out(allowed, measured)
    counts = allowed.counted.by_set
    multiple = float(2.0 ** (-bound if measured.of == "last break" else bound))
    return PropertyRule(
        of=measured.of,
        age_h=_age_of(allowed, spans, measured, bound),
        multiple=multiple,
        n_keeping=int(counts.keeping_schedules.sum()),
        n_having=n_having,
        n_allowed=int(counts.schedules.sum()),
        n_held_out=n_held_out,
        n_held_out_right=n_right,
    )


def _age_of(allowed: AllowedProgrammes, spans: Spans, measured: _Measured, bound: float) -> float:
    """The standard-cured age that the bound falls on."""
    earliest, latest = (np.log2(end / spans.middle_h) for end in spans.target_h)
    octaves = np.log2(spans.multiples[allowed.search.offered])
    off = {
        "first break": octaves - earliest,
        "last break": latest - octaves,
        "nearest break": np.minimum(np.abs(octaves - earliest), np.abs(octaves - latest)),
    }[measured.of]
    at = int(np.nanargmin(np.abs(off - bound)))
    return float(allowed.choices.ages_h[allowed.search.offered[at]])


def _held_out(allowed: AllowedProgrammes, measured: _Measured) -> tuple[int, int]:
    """Batches that the property was learnt without and checked on, and those where it was right."""
    rule, matrix = allowed.rule, allowed.rule.rule.matrix
    n_units = allowed.rule.cells.n_units
    if n_units < FEWEST_UNITS:
        return 0, 0
    which: IntArray = allowed.counted.checked
    about = (rule.cells, rule.scoring, matrix.choices, which, matrix.best_joint[which], matrix.joints)
    number = (int(allowed.numbers.max()),)
    at_unit = judge_by_unit(*about, judged_on=allowed.judged_on, trial_batches=number, n_workers=rule.n_workers)
    loss = at_unit.loss[:, 0]
    n_checked = n_right = 0
    for unit in range(n_units):
        judged = judge(
            *about, judged_on=allowed.judged_on, trial_batches=number, without=(unit,), n_workers=rule.n_workers
        )  # fmt: skip
        is_keeping = judged.within_tolerance[:, 0] >= rule.wanted.assurance
        if not is_keeping.any() or np.isnan(loss[:, unit]).all():
            continue
        there = _Measured(measured.of, measured.value[matrix.choices.set_of[which]])
        having = there.has(there.bound(np.asarray(is_keeping)))
        if having.all() or not having.any():
            continue
        n_checked += 1
        n_right += bool(np.nanmedian(loss[having, unit]) < np.nanmedian(loss[~having, unit]))
    return n_checked, n_right
