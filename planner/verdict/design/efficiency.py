"""How close the placement of the specimens is to the best any placement could be.

The limit is computed for a smooth curve fitted to all offered ages of every batch. It certifies the
placement of specimens, that is variance, and nothing else: misfit and spread between batches stay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.curves import CURVES
from planner.evidence import Cells
from planner.evidence.within_test_scatter import Scatter
from planner.fitting.single import CurveFit, fit_curve
from planner.resampling import ErrorMatrix, Scoring
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import CurveName
from planner.terms.results.recommended.design_figures import Limit
from planner.terms.schedule import Schedule
from planner.verdict.design.least_variance import LeastVariance, efficiency, least_mean_variance, mean_variance

SMOOTH: tuple[CurveName, ...] = ("hyperbolic", "exponential", "logarithmic")
MOST_VIEWS = 12  # that the limit is computed over: a mean over batches, nobody reads it to the last digit
LEAST_SHARE = 0.02  # of the specimens, for an age of the best placement to be named


@dataclass(frozen=True, slots=True, eq=False)
class Grown:
    """One view: its smooth curve, and its maturities."""

    fit: CurveFit
    known_h: FloatArray  # ages at which the view has a maturity, 0 first, rising [h], (n_known,)
    maturity_h: FloatArray  # at these ages [h at the reference temperature], (n_known,)
    scatter: Scatter

    def sensitivity(self, ages_h: FloatArray) -> FloatArray:
        """What one specimen tells of the curve at ages within the known ones [h], ``(n_ages, n_parameters)``.

        Maturity goes straight from one known age to the next.
        """
        maturity = np.interp(ages_h, self.known_h, self.maturity_h)
        sigma = self.scatter.cv_at(ages_h) * np.maximum(self.fit.predict(maturity), 1e-9)
        return np.asarray(self.fit.derivative(maturity) / sigma[:, None], dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class PlacementLimit:
    """The limit with what is needed to hold schedules against it. A model is a check of a view."""

    sensitivities: FloatArray  # (n_models, n_ages, n_parameters)
    gradients: FloatArray  # (n_models, n_parameters)
    model_weights: FloatArray  # (n_models,)
    least: LeastVariance
    ages_h: FloatArray  # offered ages, (n_ages,)
    curve: CurveName
    grown: tuple[Grown, ...]  # (n_views,)
    view_of: IntArray  # view of each model, (n_models,)

    @property
    def span_h(self) -> tuple[float, float]:
        """Youngest and oldest age with a recorded maturity in every view [h]."""
        return max(float(view.known_h[1]) for view in self.grown), min(float(view.known_h[-1]) for view in self.grown)

    def sensitivities_at(self, ages_h: tuple[float, ...]) -> FloatArray:
        """What one specimen tells at any ages within the span [h], ``(n_models, n_ages, n_parameters)``."""
        ages = np.array(ages_h, dtype=np.float64)
        return np.array([view.sensitivity(ages) for view in self.grown])[self.view_of]

    def variance_of(self, ages_h: tuple[float, ...], specimens: tuple[int, ...]) -> float:
        """Relative variance at the targets, any ages within the span [h]; infinite where they do not determine it."""
        return self.variance_with(self.sensitivities_at(ages_h), specimens)

    def variance_with(self, sensitivities: FloatArray, specimens: tuple[int, ...]) -> float:
        """The same from `sensitivities_at`."""
        counts = np.array(specimens, dtype=np.float64)
        return mean_variance(
            counts, sensitivities, self.gradients, budget=float(counts.sum()), model_weights=self.model_weights
        )

    def efficiency_of(self, schedule: Schedule) -> float | None:
        """Share of the least variance; None where a schedule breaks at ages that are not offered."""
        counts = self._counts(schedule)
        if counts is None:
            return None
        return float(
            efficiency(counts, self.sensitivities, self.gradients, limit=self.least, model_weights=self.model_weights)
        )

    def limit_for(self, schedule: Schedule) -> Limit | None:
        """Three numbers of the recommended schedule, the limit for as many specimens as it has."""
        counts = self._counts(schedule)
        if counts is None:
            return None
        own = mean_variance(
            counts, self.sensitivities, self.gradients, budget=float(counts.sum()), model_weights=self.model_weights
        )
        bound = self.least.bound * self.least.budget / counts.sum()
        if not np.isfinite(own):
            return None
        return Limit(
            rms=float(np.sqrt(bound)),
            schedule_rms=float(np.sqrt(own)),
            efficiency=float(min(bound / own, 1.0)),
            best_ages=tuple(
                (float(age), float(weight))
                for age, weight in zip(self.ages_h, self.least.weights, strict=True)
                if weight >= LEAST_SHARE
            ),
            curve=self.curve,
        )

    def _counts(self, schedule: Schedule) -> FloatArray | None:
        counts = np.zeros(len(self.ages_h))
        for age, count in zip(schedule.ages_h, schedule.specimens, strict=True):
            at = np.flatnonzero(np.isclose(self.ages_h, age))
            if at.size == 0:
                return None
            counts[at[0]] += count
        return counts


def placement_limit(
    cells: Cells,
    scoring: Scoring,
    matrix: ErrorMatrix,
    offered: IntArray,
    curves: tuple[CurveName, ...],
    *,
    most_views: int | None = None,
) -> PlacementLimit | None:
    """Limit under the smooth curve of lowest mean loss; None where no smooth curve can be fitted.

    Computed over views that were broken at every offered age and matured all the while (frost below the
    datum leaves maturity at 0): `most_views` of them, spread evenly, 12 where None.
    """
    best = _best_smooth(matrix)
    smooth = [name for name in curves if name in SMOOTH]
    if best is None or not smooth:
        return None
    joint = matrix.joints[best]
    if len(offered) < CURVES[joint.curve].fewest_ages:
        return None
    grown: list[Grown] = []
    models: list[tuple[int, FloatArray, float]] = []
    for view in _some(_whole_views(cells, joint.setting, offered), most_views or MOST_VIEWS):
        maturity = cells.views.maturity_h[joint.setting, view, offered]
        fit = fit_curve(joint.curve, maturity, cells.views.mean_mpa[view, offered], weighting=joint.weighting)
        own = np.flatnonzero(cells.checks.view == view)
        at = cells.checks.maturity_h[joint.setting, own]
        answers = fit.derivative(at)
        strengths = np.maximum(fit.predict(at), 1e-9)
        models += [
            (len(grown), answer / strength, float(scoring.weight[k] * scoring.target_weights[int(scoring.target[k])]))
            for k, answer, strength in zip(own, answers, strengths, strict=True)
        ]
        grown.append(_grown(cells, joint.setting, view, fit))
    if not models:
        return None
    view_of, gradients, model_weights = (np.array(column) for column in zip(*models, strict=True))
    sensitivities = np.array([view.sensitivity(cells.ages_h[offered]) for view in grown])[view_of]
    least = least_mean_variance(sensitivities, gradients, budget=1.0, model_weights=model_weights, wanted=0.999)
    if least is None:
        return None
    return PlacementLimit(
        sensitivities, gradients, model_weights, least, cells.ages_h[offered], joint.curve, tuple(grown), view_of
    )


def _grown(cells: Cells, setting: int, view: int, fit: CurveFit) -> Grown:
    maturity = cells.views.maturity_h[setting, view]
    is_known = np.isfinite(maturity)
    return Grown(fit, np.append(0.0, cells.ages_h[is_known]), np.append(0.0, maturity[is_known]), cells.scatter)


def _whole_views(cells: Cells, setting: int, offered: IntArray) -> list[int]:
    """Views with strength at every offered age and maturity that rises all the while, by name of the batch."""
    mean, maturity = cells.views.mean_mpa[:, offered], cells.views.maturity_h[setting][:, offered]
    at_check = np.full(len(mean), True)
    np.logical_and.at(at_check, cells.checks.view, cells.checks.maturity_h[setting] > 0)
    is_whole = (mean > 0).all(axis=1) & (maturity[:, 0] > 0) & (np.diff(maturity, axis=1) > 0).all(axis=1) & at_check
    return sorted(np.flatnonzero(is_whole).tolist(), key=lambda view: cells.views.batch[view])


def _some(views: list[int], most: int) -> list[int]:
    """At most so many of them, spread evenly."""
    return [views[at] for at in np.unique(np.linspace(0, len(views) - 1, min(most, len(views))).astype(np.int64))]


def _best_smooth(matrix: ErrorMatrix) -> int | None:
    """Joint with a smooth curve of the schedule that does best with one; a middle one where none does."""
    smooth = [j for j, joint in enumerate(matrix.joints) if joint.curve in SMOOTH]
    score = np.where(np.isin(matrix.best_joint, smooth), matrix.score, np.inf)
    if np.isfinite(score).any():
        return int(matrix.best_joint[np.argmin(score)])
    return smooth[len(smooth) // 2] if smooth else None


def variant_schedules(
    offered: IntArray, chosen: ChoiceSet, which: int
) -> list[tuple[int, tuple[int, ...], tuple[int, ...]]]:
    """The chosen schedule without each of its ages and with each other: (age, positions, specimens)."""
    positions, specimens = chosen.row(which)
    counts = dict(zip(positions.tolist(), specimens.tolist(), strict=True))
    variants: list[tuple[int, tuple[int, ...], tuple[int, ...]]] = []
    typical = max(1, round(sum(counts.values()) / len(counts)))
    for age in offered:
        changed = dict(counts)
        if int(age) in changed:
            del changed[int(age)]
        else:
            changed[int(age)] = typical
        if len(changed) >= 2:
            kept = tuple(sorted(changed))
            variants.append((int(age), kept, tuple(changed[i] for i in kept)))
    return variants
