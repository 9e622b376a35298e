"""The error of a geometry's programme beside what curve and conversion have in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.choices import choice_set, extra_choices
from planner.conversion import Conversion, converted_records
from planner.conversion.converted_records import records_of
from planner.conversion.stated_conversions import usual_strength
from planner.evidence import Cells, tabulate
from planner.geometry_choice.plan_alone import plan_of
from planner.resampling import Scoring, joints_of
from planner.resampling.errors.later_pours.judged_programmes import judge
from planner.terms.arrays import BoolArray
from planner.terms.plan.settings import Plan
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.problems import InputError
from planner.terms.records import Records
from planner.terms.results.geometry.geometry_options import ErrorParts
from planner.verdict.selection.search import Search


def error_parts(
    plan: Plan, search: Search, kind: SpecimenKind, conversion: Conversion | None, *, not_credited: float = 0.0
) -> ErrorParts:
    """The total error of what was chosen, and the parts that curve and conversion have in it.

    Parameters
    ----------
    not_credited
        Variance that the measured truths of `search` were spread by.
    """
    assert search.chosen is not None
    assert search.programmes is not None
    taken = search.chosen.taken
    column = search.programmes.everything.trial_batches.index(taken.n_trial_batches)
    total = float(search.programmes.everything.rms[taken.which, column])
    if conversion is None:
        return ErrorParts(total_rms=total, curve_rms=total, conversion_rms=0.0)
    target = plan.settings.target
    usual = [usual_strength(plan.records, kind.geometry, age) for age in target.ages_h]
    variances = [
        weight * float(conversion.variance(mpa, age))
        for mpa, age, weight in zip(usual, target.ages_h, target.target_weights, strict=True)
        if mpa is not None
    ]
    # held against truths of its own geometry, converted alike, the conversion drops out
    own = converted_records(records_of(plan.records, kind.geometry), conversion)
    exact = replace(own, breaks=tuple(replace(item, conversion_cv=0.0) for item in own.breaks))
    shown = None if not_credited == 0.0 else _held_against(plan_of(plan, kind, conversion).records, search)
    return ErrorParts(
        total_rms=total,
        curve_rms=_held_against(exact, search),
        conversion_rms=float(np.sqrt(sum(variances))),
        not_credited=not_credited,
        shown_rms=shown,
    )


def _held_against(records: Records, search: Search) -> float | None:
    """Error of the chosen programme on other records of the same batches; None where they cannot judge it."""
    settings, programmes = search.plan.settings, search.programmes
    assert programmes is not None
    assert search.chosen is not None
    try:
        cells = tabulate(records, settings)
    except InputError:
        return None
    taken, joints = search.chosen.taken, joints_of(settings.curves, cells.settings)
    found = extra_choices([programmes.rule.matrix.choices.schedule(taken.which)], cells.ages_h)
    if found[0] is None or joints != programmes.rule.matrix.joints:
        return None
    judged = judge(
        cells, Scoring.of(cells, settings.target), choice_set(cells.ages_h, [found[0]]), np.zeros(1, dtype=np.int64),
        np.array([taken.joint]), joints, judged_on=programmes.wanted.judged_on,
        trial_batches=(taken.n_trial_batches,),
    )  # fmt: skip
    rms = float(judged.rms[0, 0])
    return rms if np.isfinite(rms) else None


def is_measured(cells: Cells, not_credited: float) -> BoolArray:
    """Which checks are truths in the target's geometry, all spread alike, and no converted ones, ``(n_checks,)``."""
    return np.asarray(np.abs(cells.checks.conversion_cv) == float(np.sqrt(not_credited)))


def measured_share(cells: Cells, not_credited: float) -> float:
    """Share of the checks' weight that measured truths have."""
    weight = cells.checks.weight
    return float(weight[is_measured(cells, not_credited)].sum() / weight.sum())
