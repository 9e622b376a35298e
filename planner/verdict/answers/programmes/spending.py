"""Programmes with their figures: the recommended one, the best, and the frontier of error against money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.resampling import pair_errors
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE, FEWEST_FOR_BOUNDS, SAFE_READING_CONFIDENCE
from planner.resampling.errors.later_pours.judged_programmes import Programmes, judge
from planner.resampling.errors.later_pours.later_pour import jackknife_error
from planner.resampling.errors.later_pours.pour_readings import judging_checks
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.programme_figures import Beating, LaterPourFigures, Programme, Spending, SpendingFigures
from planner.terms.worded import worded
from planner.verdict.answers.maturity_constants.careful_answer import over_reading_of
from planner.verdict.selection.programmes.judged_basis import judged_basis
from planner.verdict.selection.programmes.price_ladder import Ladder
from planner.verdict.selection.programmes.programme import Chosen, Taken
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from planner.verdict.selection.search import Search
from planner.verdict.statistics.tolerance_bounds import safe_reading_factor
from planner.verdict.validation.next_batch import batch_equivalents, gathered, inside_lower
from planner.verdict.wording.programmes.helping_words import helps_words
from planner.verdict.wording.programmes.spending_words import spending_words

MOST_POINTS = 6  # of the frontier, for each number of trial batches
LEAST_SCORE = 1e-12  # below, scores are no more told apart
FEWEST_TO_JACKKNIFE = 4  # batches: of fewer, none is left to be trial batch, pour and left out


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """Figures of the programmes that are listed, own batch and later pour."""

    own: Programmes
    later: Programmes | None


def spending(search: Search, rule: ProgrammeRule, chosen: Chosen, early: EarlyBreaks | None) -> Spending:
    """Put figures and words to what the rule took, to the best, and to the frontier.

    Parameters
    ----------
    early
        What the pours break before they are read, where that is planned.
    """
    figures = spending_figures(search, rule, chosen)
    settings = search.plan.settings
    return worded(
        Spending,
        figures,
        sentences=spending_words(figures, settings, early),
        helps=helps_words(figures, settings, early),
    )


def spending_figures(search: Search, rule: ProgrammeRule, chosen: Chosen) -> SpendingFigures:
    """The figures alone."""
    ladder = rule.ladder()
    assert ladder is not None
    listed = _listed(rule, chosen, ladder)
    judged = _judge(rule, listed)
    tied = set(chosen.tied)
    bounded = {chosen.taken, chosen.best}
    programmes = {
        taken: _programme(search, rule, judged, at, taken, is_tied=taken in tied, has_bounds=taken in bounded)
        for at, taken in enumerate(listed)
    }
    judged_on, why = judged_basis(rule.cells, search.plan.settings.target)
    ordered = tuple(programmes[taken] for taken in listed)
    return SpendingFigures(
        judged_on=judged_on,
        judged_because=why,
        immaterial=rule.wanted.immaterial,
        is_enough=chosen.is_enough,
        recommended=programmes[chosen.taken],
        best=programmes[chosen.best],
        lowest=_lowest(search, rule, programmes[chosen.best]),
        programmes=ordered,
        n_tied=len(chosen.tied),
        score=float(rule.rule.matrix.score[chosen.taken.which]),
        score_from_other_schedules=0.0
        if rule.scoring.penalty is None
        else float(rule.scoring.penalty[chosen.taken.joint].mean()),
    )


def _listed(rule: ProgrammeRule, chosen: Chosen, ladder: Ladder) -> list[Taken]:
    """The frontier of every number of trial batches told, the recommended and the best; cheapest first."""
    found = {chosen.taken, chosen.best}
    rms = _later_or_own(rule, ladder)
    for column, number in enumerate(rule.everything.trial_batches):
        is_falling = rms[:, column] < np.minimum.accumulate(np.r_[np.inf, rms[:-1, column]])
        kept = np.flatnonzero(is_falling)
        if len(kept) > MOST_POINTS:
            kept = kept[np.unique(np.linspace(0, len(kept) - 1, MOST_POINTS).astype(np.int64))]
        found |= {Taken(int(ladder.which[at]), int(ladder.joint[at]), number) for at in kept}
        if number not in (chosen.taken.n_trial_batches, 1):
            found.add(Taken(chosen.taken.which, chosen.taken.joint, number))
    found |= {replace(chosen.taken, n_trial_batches=m) for m in _next_numbers(rule, chosen.taken.n_trial_batches)}

    def price(taken: Taken) -> tuple[float, ...]:
        keys = rule.limits.price_keys(np.array([taken.which]), np.array([taken.n_trial_batches]))
        return (taken.n_trial_batches, *(float(key[0]) for key in keys), taken.which, taken.joint)

    return sorted(found, key=price)


def programme_of(
    search: Search, rule: ProgrammeRule, taken: Taken, *, is_tied: bool = False, money: float | None = None
) -> Programme:
    """One programme with its figures and bounds.

    Parameters
    ----------
    is_tied
        With the best.
    money
        What it costs where it is none of the priced schedules.
    """
    judged = _judge(rule, [taken])
    return _programme(search, rule, judged, 0, taken, is_tied=is_tied, has_bounds=True, money=money)


def _lowest(search: Search, rule: ProgrammeRule, best: Programme) -> Programme | None:
    """The schedule of lowest judged error, where own-batch losses keep it off the ladder."""
    decision = rule.fixed().decide()
    if decision is None or decision.judged_on == "own batch":
        return None
    found = decision.lowest
    if found.rms >= best.headline_rms - rule.wanted.immaterial:
        return None
    taken = Taken(found.which, found.joint, found.n_trial_batches)
    return _programme(search, rule, _judge(rule, [taken]), 0, taken, is_tied=False, has_bounds=False)


def _next_numbers(rule: ProgrammeRule, number: int) -> tuple[int, ...]:
    """One trial batch less and one more, where they are told."""
    return tuple(m for m in (number - 1, number + 1) if m in rule.everything.trial_batches)


def _later_or_own(rule: ProgrammeRule, ladder: Ladder) -> FloatArray:
    return rule.everything.rms[ladder.which].astype(np.float64)


def _judge(rule: ProgrammeRule, listed: Sequence[Taken]) -> _Judged:
    which, joint = (np.array([getattr(taken, name) for taken in listed]) for name in ("which", "joint"))
    matrix = rule.rule.matrix
    about = (rule.cells, rule.scoring, matrix.choices, which, joint, matrix.joints)
    numbers = rule.everything.trial_batches
    own = judge(*about, judged_on="own batch", trial_batches=numbers, n_workers=rule.n_workers)
    later = judge(*about, judged_on="later pour", trial_batches=numbers, n_workers=rule.n_workers)
    return _Judged(own, later if np.isfinite(later.rms).any() else None)


def _programme(
    search: Search,
    rule: ProgrammeRule,
    judged: _Judged,
    at: int,
    taken: Taken,
    *,
    is_tied: bool,
    has_bounds: bool,
    money: float | None = None,
) -> Programme:
    matrix, limits = rule.rule.matrix, rule.limits
    joint = matrix.joints[taken.joint]
    number = taken.n_trial_batches
    column = rule.everything.trial_batches.index(number)
    cost = limits.cost(taken.which, number) if money is None else money
    is_within = number in limits.trial_batches and bool(limits.allows(np.array([taken.which]), number)[0])
    share = judged.own if rule.wanted.judged_on == "own batch" or judged.later is None else judged.later
    return Programme(
        n_trial_batches=number,
        schedule=matrix.choices.schedule(taken.which),
        curve=joint.curve,
        weighting=joint.weighting,
        maturity=joint.maturity,
        own_batch_rms=float(judged.own.rms[at, column]),
        own_batch_within_tolerance=float(judged.own.within_tolerance[at, column]),
        next_batch=_later_figures(search, rule, judged.later, at, taken, has_bounds=has_bounds),
        cost=None if cost is None else float(cost),
        n_visits=int(limits.n_visits[taken.which]) * number,
        is_tied=is_tied,
        is_enough=bool(share.within_tolerance[at, column] >= rule.wanted.assurance),
        is_within_limits=is_within,
        geometry=search.plan.settings.prior.geometry or "",
        beaten_by=_beating(rule, taken),
    )


def _beating(rule: ProgrammeRule, taken: Taken) -> Beating | None:
    better = rule.beaten_by(taken)
    if better is None:
        return None
    column = rule.everything.trial_batches.index(better.n_trial_batches)
    share, score = float(rule.everything.within_tolerance[better.which, column]), rule.rule.matrix.score
    return Beating(
        n_trial_batches=better.n_trial_batches,
        schedule=rule.rule.matrix.choices.schedule(better.which),
        rms=float(rule.everything.rms[better.which, column]),
        within_tolerance=share,
        is_enough=share >= rule.wanted.assurance,
        score_times=float(score[better.which] / max(float(score[taken.which]), LEAST_SCORE)),
    )


def _later_figures(
    search: Search, rule: ProgrammeRule, later: Programmes | None, at: int, taken: Taken, *, has_bounds: bool
) -> LaterPourFigures | None:
    column = rule.everything.trial_batches.index(taken.n_trial_batches)
    if later is None or not np.isfinite(later.rms[at, column]):
        return None
    rms, inside = float(later.rms[at, column]), float(later.within_tolerance[at, column])
    bounds = _bounds(search, rule, rms, inside, taken) if has_bounds else _Bounds()
    return LaterPourFigures(
        rms=rms,
        rms_se=bounds.rms_se,
        rms_upper_95=bounds.rms_upper_95,
        within_tolerance=inside,
        within_tolerance_lower_95=bounds.within_tolerance_lower_95,
        over_predicted_beyond_tolerance=float(later.over_beyond[at, column]),
        worst_batch_rms=float(later.worst[at, column]),
        safe_reading_factor=bounds.safe_reading_factor,
        is_extrapolated=taken.n_trial_batches > _fewest_others(rule),
    )


def _fewest_others(rule: ProgrammeRule) -> int:
    """Other batches of its mix that the pour with the fewest has, of those that have any."""
    mixes = dict(zip(rule.cells.views.batch, rule.cells.views.mix, strict=True))
    sizes = [list(mixes.values()).count(mix) for mix in set(mixes.values())]
    return min((size - 1 for size in sizes if size > 1), default=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bounds:
    """What few batches allow to be claimed of one programme on later pours; None where they allow nothing."""

    rms_se: float | None = None
    rms_upper_95: float | None = None
    within_tolerance_lower_95: float | None = None
    safe_reading_factor: float | None = None


def _bounds(search: Search, rule: ProgrammeRule, rms: float, inside: float, taken: Taken) -> _Bounds:
    from scipy.special import chdtri

    matrix = rule.rule.matrix
    pairs = pair_errors(rule.cells, rule.scoring, matrix.choices, taken.which, matrix.joints[taken.joint])
    errors = None if pairs is None else gathered([(pairs, taken.n_trial_batches)], rule.scoring)
    if errors is None or errors.n_batches < FEWEST_FOR_BOUNDS:
        return _Bounds()
    if rule.scoring.is_by_mix:
        return _Bounds(rms_se=_standard_error(rule, taken))
    equivalents = batch_equivalents(errors)
    factor = safe_reading_factor(equivalents, assurance=rule.wanted.assurance, confidence=SAFE_READING_CONFIDENCE)
    n_degrees = errors.n_batches - 1
    return _Bounds(
        rms_se=_standard_error(rule, taken),
        rms_upper_95=rms * float(np.sqrt(n_degrees / chdtri(n_degrees, BOUND_CONFIDENCE))),
        within_tolerance_lower_95=inside_lower(errors, inside, tolerance=rule.wanted.tolerance),
        safe_reading_factor=None if factor is None else factor * (1.0 + over_reading_of(search)),
    )


def _standard_error(rule: ProgrammeRule, taken: Taken) -> float | None:
    """Of the later-pour RMS, each batch left out as trial batch and as pour."""
    matrix, n_units = rule.rule.matrix, rule.cells.n_units
    if n_units < FEWEST_TO_JACKKNIFE:
        return None
    which: IntArray = np.array([taken.which])
    without = [
        judge(
            rule.cells, rule.scoring, matrix.choices, which, np.array([taken.joint]), matrix.joints,
            judged_on="later pour", trial_batches=(taken.n_trial_batches,), without=(unit,),
        ).rms[0, 0]
        for unit in np.unique(rule.cells.check_unit[judging_checks(rule.cells)]).tolist()  # no other takes part
    ]  # fmt: skip
    found = float(jackknife_error(np.array(without, dtype=np.float64)))
    return found if np.isfinite(found) else None
