"""Where targets and breaks lie on the scale of maturity, schedule by schedule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import Joint
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.results.programme_figures import Programme


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Typical maturities under one setting [h at the reference temperature]."""

    at_age_h: FloatArray  # of every recorded age, standard-cured; NaN where none was broken, (n_recorded,)
    target_h: tuple[float, float]  # at the earliest and at the latest target
    middle_h: float  # of all checks

    @property
    def multiples(self) -> FloatArray:
        """Of the middle target's maturity, ``(n_recorded,)``."""
        return self.at_age_h / self.middle_h


def spans_of(cells: Cells, setting: int) -> Spans:
    """Medians over the batches that were broken at each age, and over the checks of each target."""
    typical = np.array([
        np.median(column[np.isfinite(column)]) if np.isfinite(column).any() else np.nan
        for column in cells.views.maturity_h[setting].T
    ])  # fmt: skip
    checks = cells.checks
    at_target = [
        float(np.median(checks.maturity_h[setting][checks.target == target])) for target in np.unique(checks.target)
    ]
    middle = float(np.median(checks.maturity_h[setting]))
    return Spans(typical, (min(at_target), max(at_target)), middle)


def spanning(cells: Cells, choices: ChoiceSet, joint_of: AnyArray, joints: Sequence[Joint]) -> BoolArray:
    """Schedules with a break on both sides of every target's typical maturity, each under its own joint's setting.

    ``(n_choices,)``
    """
    first, last = ends_of(choices)
    settings = np.array([cells.settings.index(joint.maturity) for joint in joints])
    own = settings[np.asarray(joint_of, dtype=np.int64)]
    found = np.zeros(len(choices), dtype=bool)
    for setting in np.unique(own):
        spans = spans_of(cells, int(setting))
        mine = own == setting
        found[mine] = (spans.at_age_h[first[mine]] <= spans.target_h[0]) & (
            spans.at_age_h[last[mine]] >= spans.target_h[1]
        )
    return found


def ends_of(choices: ChoiceSet) -> tuple[IntArray, IntArray]:
    """Positions of the first and of the last age of every schedule, each ``(n_choices,)``."""
    first = choices.set_members[:, 0].astype(np.int64)[choices.set_of]
    last = choices.set_members[np.arange(choices.n_sets), choices.set_n_ages - 1].astype(np.int64)[choices.set_of]
    return first, last


def is_extrapolating(cells: Cells, programme: Programme) -> bool:
    """Whether a target's typical maturity lies outside the span of a programme's breaks."""
    spans = spans_of(cells, cells.settings.index(programme.maturity))
    first, last = (
        float(spans.at_age_h[int(np.argmin(np.abs(cells.ages_h - age)))])
        for age in (programme.schedule.ages_h[0], programme.schedule.last_age_h)
    )
    return not (first <= spans.target_h[0] and last >= spans.target_h[1])
