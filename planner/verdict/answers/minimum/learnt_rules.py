"""Rules of thumb read off all scored schedules by a shallow tree, and checked on batches left out.

The tree splits schedules by what can be said of them in a clause: how far before and after the target's
maturity the nearest breaks are, how many specimens lie near it, when the last break is. It is learnt anew
without each batch, and what it says is then held against that batch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import AnyArray, BoolArray, FloatArray
from planner.terms.results.answers import LearntRule
from planner.verdict.validation.restricted import FoldTable

DEPTH = 3
LEAST_SHARE = 0.02  # of the schedules, for a rule to have support
MOST_OCTAVES = 12.0  # nothing is broken at a four-thousandth of the target's maturity
MOST_LEARNT = 20_000  # schedules the tree sees; more are thinned evenly
FEWEST_LEARNT = 50
NONE_OCTAVES = 99.0  # no break on that side of the target
MOST_TOLD = 2  # rules: what to do, what to avoid
FEATURES = (
    "octaves before", "octaves after", "specimens near", "first", "last", "specimens", "ages",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Condition:
    """One side of a split."""

    feature: int
    low: float  # above this
    high: float  # up to this


def learnt_rules(table: FoldTable, multiples: FloatArray, *, assurance: float) -> tuple[LearntRule, ...]:
    """The best leaf and the worst, with their support; () with too few schedules or batches.

    Parameters
    ----------
    multiples
        Maturity of every recorded age as a multiple of the target's, ``(n_recorded,)``.
    """
    scored = np.flatnonzero(np.isfinite(table.loss[-1]))
    if len(scored) < FEWEST_LEARNT or table.scoring.n_units < 3:
        return ()
    scored = scored[np.unique(np.linspace(0, len(scored) - 1, MOST_LEARNT).astype(np.int64))]
    facts = features(table, multiples)[scored]
    rms = np.sqrt(np.maximum(table.loss[-1, scored].astype(np.float64), 1e-12))
    leaves = _leaves(facts, rms)
    told = [leaves[0], leaves[-1]] if len(leaves) >= MOST_TOLD else leaves
    rules = []
    for is_best, conditions in zip((True, False), told, strict=False):
        obeys = obey(facts, conditions)
        rules.append(_rule(table, scored, facts, rms, obeys, conditions, is_best=is_best, assurance=assurance))
    return tuple(rules)


def features(table: FoldTable, multiples: FloatArray) -> FloatArray:
    """What a clause can say of every schedule, ``(n_choices, 7)``, see `FEATURES`."""
    choices = table.choices
    members = choices.set_members.astype(np.int64)
    octaves = np.where(members >= 0, np.log2(multiples)[members], np.nan)
    before = _least(np.where(octaves <= 0, -octaves, np.nan))
    after = _least(np.where(octaves >= 0, octaves, np.nan))
    last = octaves[np.arange(choices.n_sets), choices.set_n_ages - 1]
    by_set = np.stack([before, after, octaves[:, 0], last], axis=1)[choices.set_of]
    near = (np.abs(np.nan_to_num(octaves, nan=9.0)) <= 1.0)[choices.set_of]
    n_near = (choices.specimens * near).sum(axis=1)
    return np.column_stack([
        by_set[:, 0], by_set[:, 1], n_near, by_set[:, 2], by_set[:, 3], choices.n_specimens, choices.n_ages,
    ]).astype(np.float64)  # fmt: skip


def _least(values: FloatArray) -> FloatArray:
    return np.asarray(np.where(np.isfinite(values), values, NONE_OCTAVES).min(axis=1))


def _leaves(facts: FloatArray, rms: FloatArray) -> list[tuple[Condition, ...]]:
    """Leaves of the tree as conditions, lowest error first."""
    from sklearn.tree import DecisionTreeRegressor

    tree = DecisionTreeRegressor(
        max_depth=DEPTH, min_samples_leaf=max(5, int(LEAST_SHARE * len(rms))), random_state=0
    ).fit(facts, np.log(rms))
    nodes = tree.tree_
    found: list[tuple[float, tuple[Condition, ...]]] = []

    def walk(node: int, path: tuple[Condition, ...]) -> None:
        if nodes.children_left[node] < 0:
            found.append((float(nodes.value[node, 0, 0]), path))
            return
        feature, cut = int(nodes.feature[node]), float(nodes.threshold[node])
        walk(nodes.children_left[node], (*path, Condition(feature, -np.inf, cut)))
        walk(nodes.children_right[node], (*path, Condition(feature, cut, np.inf)))

    walk(0, ())
    return [_merged(path) for _, path in sorted(found, key=lambda leaf: leaf[0])]


def _merged(path: tuple[Condition, ...]) -> tuple[Condition, ...]:
    """Several splits of one feature as one interval."""
    merged: dict[int, Condition] = {}
    for part in path:
        known = merged.get(part.feature, Condition(part.feature, -np.inf, np.inf))
        merged[part.feature] = Condition(part.feature, max(known.low, part.low), min(known.high, part.high))
    return tuple(merged.values())


def obey(facts: FloatArray, conditions: tuple[Condition, ...]) -> BoolArray:
    """Which schedules meet every condition, ``(n_choices,)``."""
    is_met = np.ones(len(facts), dtype=bool)
    for part in conditions:
        is_met &= (facts[:, part.feature] > part.low) & (facts[:, part.feature] <= part.high)
    return is_met


def _rule(
    table: FoldTable,
    scored: AnyArray,
    facts: FloatArray,
    rms: FloatArray,
    obeys: BoolArray,
    conditions: tuple[Condition, ...],
    *,
    is_best: bool,
    assurance: float,
) -> LearntRule:
    from scipy.special import ndtri

    enough = table.scoring.tolerance / float(ndtri(0.5 + 0.5 * assurance))
    n_checked, n_better, kept, others = held_out_check(table, scored, facts, is_best=is_best)
    head = "Low error" if is_best else "High error"
    words = "; ".join(condition_words(part) for part in conditions)
    return LearntRule(
        text=f"{head}: {words}.",
        n_schedules=int(obeys.sum()),
        n_scored=len(scored),
        share_inside=float((rms[obeys] <= enough).mean()),
        rms=float(np.median(rms[obeys])),
        n_held_out=n_checked,
        n_held_out_better=n_better,
        held_out_rms=kept,
        held_out_rms_others=others,
    )


def held_out_check(
    table: FoldTable, scored: AnyArray, facts: FloatArray, *, is_best: bool
) -> tuple[int, int, float | None, float | None]:
    """Learn the rule without each batch and hold it against that batch.

    Returns
    -------
    tuple
        Batches checked; those where the rule was right (schedules that obey do better than the rest, for
        the rule of what to avoid worse); median root loss there of schedules that obey, and of the rest.
    """
    n_checked = n_right = 0
    medians: list[tuple[float, float]] = []
    for unit in range(table.scoring.n_units):
        trained, judged = table.loss[unit, scored], table.left_out[unit, scored]
        known = np.isfinite(trained) & np.isfinite(judged)
        if known.sum() < FEWEST_LEARNT:
            continue
        root = np.sqrt(np.maximum(trained[known].astype(np.float64), 1e-12))
        leaves = _leaves(facts[known], root)
        obeys = obey(facts[known], leaves[0] if is_best else leaves[-1])
        if obeys.all() or not obeys.any():
            continue
        there = np.sqrt(np.maximum(judged[known].astype(np.float64), 0.0))
        mine, rest = float(np.median(there[obeys])), float(np.median(there[~obeys]))
        n_checked += 1
        n_right += (mine < rest) if is_best else (mine > rest)
        medians.append((mine, rest))
    if not medians:
        return 0, 0, None, None
    kept, others = np.median(np.array(medians), axis=0)
    return n_checked, int(n_right), float(kept), float(others)


def condition_words(part: Condition) -> str:
    """One condition as a phrase; octaves as multiples of the target's maturity."""
    low, high = part.low, part.high
    if part.feature == 0:
        return _side_words(low, high, side="before")
    if part.feature == 1:
        return _side_words(low, high, side="after")
    if part.feature in (3, 4):
        which = "first break" if part.feature == 3 else "last break"
        if np.isfinite(low) and np.isfinite(high):
            return f"{which} between {2**low:.2g} and {2**high:.2g} times the target's maturity"
        return (
            f"{which} at {2**high:.2g} times the target's maturity or earlier"
            if np.isfinite(high)
            else f"{which} later than {2**low:.2g} times the target's maturity"
        )
    what = {2: "specimens within half and twice the target's maturity", 5: "specimens in all", 6: "ages"}[part.feature]
    fewest = int(np.floor(low)) + 1 if np.isfinite(low) else None
    most = int(np.floor(high)) if np.isfinite(high) else None
    if fewest is not None and most is not None:
        return f"{fewest} to {most} {what}" if most > fewest else f"{fewest} {what}"
    if fewest is not None:
        return f"{fewest} or more {what}"
    return f"no {what}" if most == 0 else f"at most {most} {what}"


def _side_words(low: float, high: float, *, side: str) -> str:
    """How far off the nearest break on one side is, as multiples of the target's maturity."""
    sign = -1.0 if side == "before" else 1.0
    where = f"at or {side} the target"
    has_far, has_near = high < NONE_OCTAVES / 2, bool(np.isfinite(low))
    if low > NONE_OCTAVES / 2 or (has_near and low > MOST_OCTAVES):
        return f"no break {where}"
    near, far = f"{2 ** (sign * low):.2g}", f"{2 ** (sign * high):.2g}"
    if has_far and has_near:
        return f"the nearest break {where} between {near} and {far} times its maturity"
    if has_far:
        return f"a break {where}, no further off than {far} times its maturity"
    return f"no break {where} nearer than {near} times its maturity"
