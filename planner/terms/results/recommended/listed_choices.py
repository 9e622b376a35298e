"""Every schedule that was scored, as columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.terms.arrays import AnyArray, FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.promise import PromiseArray
from planner.terms.results.recommended.evidence_figures import EvidenceGrade
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChoiceTable:
    """Every schedule with its best curve, weighting and constants, best score first. Columns of equal length."""

    schedules: Sequence[Schedule]
    curve: tuple[CurveName, ...]
    weighting: tuple[Weighting, ...]
    maturity: tuple[MaturitySetting, ...]
    score: FloatArray
    rms: FloatArray
    bias: FloatArray
    mean_abs: FloatArray
    p95_abs: FloatArray
    within_tolerance: PromiseArray
    over_predicted_beyond_tolerance: PromiseArray
    cost: FloatArray  # NaN where no costs were given
    n_batches: AnyArray  # whole numbers
    n_visits: AnyArray  # visits to the testing machine, whole numbers
    is_resampled: AnyArray  # truths: basis is resampled, else closed form
    evidence: EvidenceGrade
    n_in_search: int  # more than the rows where only the best are kept
