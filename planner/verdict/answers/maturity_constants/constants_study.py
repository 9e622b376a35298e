"""How much the maturity constants matter: the recommended schedule and curve under a fine grid of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from planner.choices import ChoiceSet, choice_set
from planner.evidence import Cells, tabulate
from planner.resampling import Joint, Scoring, joints_of
from planner.resampling.errors.later_pours.judged_programmes import judge
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import JudgedOn, MaturityGrid, Settings
from planner.terms.results.constants import AtConstant, Constants, ConstantsOfMethod
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.maturity_constants.hours_under import hours_under
from planner.verdict.selection.search import Search

METHODS: tuple[Literal["equivalent age", "temperature-time"], ...] = ("equivalent age", "temperature-time")
Q_K = tuple(float(q) for q in range(2000, 8001, 250))
DATUM_C = tuple(float(datum) for datum in range(-15, 13))
LEAST_BELOW_REFERENCE_K = 5.0  # a datum nearer to the reference makes a few degrees decide everything


def constants_study(search: Search, recommended: RatedChoice) -> Constants | None:
    """Errors against the constant, and what the constants that are about as good make of the hours.

    None where batches are drawn, or where the temperatures of the records do not tell constants apart.
    """
    settings = search.plan.settings
    if search.basis.is_drawn or len(search.cells.settings) < 2:
        return None
    chosen = recommended.maturity
    grid = _grid(settings.maturity, search.cells.settings)
    cells = tabulate(search.plan.records, replace(settings, maturity=grid))
    choices = _alone(cells, recommended)
    joints = tuple(
        joint for joint in joints_of((recommended.curve,), cells.settings) if joint.weighting == recommended.weighting
    )
    judged_on = search.programmes.wanted.judged_on if search.programmes is not None else "own batch"
    n_trial = max(1, search.n_trial_batches)
    own = _rms(cells, settings, choices, joints, "own batch", 1)
    later = _rms(cells, settings, choices, joints, "later pour", n_trial)
    conditions = tuple(dict.fromkeys(str(item) for item in cells.checks.condition))
    is_later = judged_on == "later pour" and bool(np.isfinite(later).any())
    errors = _Errors(
        maturity=tuple(joint.maturity for joint in joints),
        own=own,
        later=later,
        by_condition=tuple(_rms(_under(cells, name), settings, choices, joints, "own batch", 1) for name in conditions),
        deciding=later if is_later else own,
    )
    return Constants(
        chosen=chosen,
        conditions=conditions,
        judged_on="later pour" if is_later else "own batch",
        immaterial=settings.target.immaterial_difference,
        methods=tuple(
            _of_method(search, cells, recommended, method, errors)
            for method in METHODS
            if any(
                setting.method == method and np.isfinite(rms)
                for setting, rms in zip(errors.maturity, errors.deciding, strict=True)
            )
        ),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Errors:
    """RMS errors under every maturity setting, ``(n_settings,)`` each; NaN where nothing can judge it."""

    maturity: tuple[MaturitySetting, ...]
    own: FloatArray
    later: FloatArray
    by_condition: tuple[FloatArray, ...]
    deciding: FloatArray


def _grid(asked: MaturityGrid, searched: tuple[MaturitySetting, ...]) -> MaturityGrid:
    """A fine grid of both constants that holds every one that was searched; of a method that was not, nothing."""
    of = {method: {one.constant for one in searched if one.method == method} for method in METHODS}
    most_c = asked.reference_c - LEAST_BELOW_REFERENCE_K
    fine = {METHODS[0]: Q_K, METHODS[1]: tuple(value for value in DATUM_C if value <= most_c)}
    q_k, datum_c = (tuple(sorted(of[method].union(fine[method]))) if of[method] else () for method in METHODS)
    return replace(asked, equivalent_age_q_k=q_k, datum_c=datum_c)


def _alone(cells: Cells, recommended: RatedChoice) -> ChoiceSet:
    """The recommended schedule as the only choice."""
    schedule = recommended.schedule
    positions = [int(abs(cells.ages_h - age).argmin()) for age in schedule.ages_h]
    return choice_set(cells.ages_h, [(positions, schedule.specimens)])


def _rms(
    cells: Cells,
    settings: Settings,
    choices: ChoiceSet,
    joints: tuple[Joint, ...],
    judged_on: JudgedOn,
    n_trial_batches: int,
) -> FloatArray:
    """RMS error under every constant, ``(n_joints,)``; NaN where nothing can judge it."""
    every = np.arange(len(joints))
    judged = judge(
        cells,
        Scoring.of(cells, settings.target),
        choices,
        np.zeros_like(every),
        every,
        joints,
        judged_on=judged_on,
        trial_batches=(n_trial_batches,),
    )
    return judged.rms[:, 0].astype(np.float64)


def _under(cells: Cells, condition: str) -> Cells:
    """The same cells with the checks of one condition alone, weighted anew."""
    kept = np.flatnonzero([str(item) == condition for item in cells.checks.condition])
    checks = cells.checks.take(kept)
    unit = cells.views.unit[checks.view]
    total = np.zeros((cells.n_units, len(cells.target_ages_h)))
    np.add.at(total, (unit, checks.target), checks.weight)
    return replace(cells, checks=replace(checks, weight=checks.weight / total[unit, checks.target]))


def _of_method(
    search: Search,
    cells: Cells,
    recommended: RatedChoice,
    method: Literal["equivalent age", "temperature-time"],
    errors: _Errors,
) -> ConstantsOfMethod:
    at = [k for k, one in enumerate(errors.maturity) if one.method == method and np.isfinite(errors.deciding[k])]
    best = min(errors.deciding[k] for k in at)
    good = [k for k in at if errors.deciding[k] <= best + search.plan.settings.target.immaterial_difference]
    lowest, chosen, highest = errors.maturity[good[0]], recommended.maturity, errors.maturity[good[-1]]
    return ConstantsOfMethod(
        method=method,
        points=tuple(
            AtConstant(
                constant=errors.maturity[k].constant,
                own_rms=float(errors.own[k]),
                later_rms=_known(errors.later[k]),
                by_condition=tuple(_known(part[k]) for part in errors.by_condition),
            )
            for k in at
        ),
        about_as_good=(lowest.constant, highest.constant),
        hours=hours_under(search, cells, recommended, (lowest, chosen, highest)) if chosen.method == method else (),
    )


def _known(rms: float) -> float | None:
    return float(rms) if np.isfinite(rms) else None
