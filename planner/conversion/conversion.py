"""A conversion with its error: a form, its line with and without each batch, and how far new batches lie off it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.special import stdtr

from planner.conversion.judging import Judged, chosen_form, judge_forms
from planner.conversion.pairs import Pairs
from planner.conversion.regression import Form, Line
from planner.terms.arrays import FloatArray
from planner.terms.results.geometry.conversion_figures import ConversionForm

FEWEST_BATCHES = 3  # with pairs: of fewer nothing tells how batches differ
TELLING_SHARE = 0.05  # a drift with age that chance gives more seldom is counted


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Conversion:
    """Strengths of `from_geometry` into those of `to_geometry`."""

    from_geometry: str
    to_geometry: str
    form: ConversionForm
    line: Line
    inflation: float = 1.0  # of the variance, where batches left out lay further off than the line says; at least 1
    drift: float = 0.0  # of the residual with the natural logarithm of age, where told apart from chance
    drift_about: float = 0.0  # natural logarithm of the age at which it is nought
    pairs: Pairs | None = None  # None: a stated factor
    judged: Mapping[Form, Judged] = field(default_factory=dict)

    @property
    def n_batches(self) -> int:
        return 0 if self.pairs is None else len(self.pairs.batches)

    def convert(self, from_mpa: FloatArray | float) -> FloatArray:
        """Strength in the target's geometry [MPa], any shape."""
        return self.line.convert(from_mpa)

    def aligned(self, batch: str, to_mpa: float) -> float:
        """A measured strength of the target's geometry as it is to be held against converted ones [MPa].

        A batch is judged by the conversion of all other batches: its own pairs must not serve to convert it. So its
        measured strength is put where the conversion without it and the one of all pairs meet.
        """
        line = None if self.pairs is None else self.judged[self.line.form].left_out.get(batch)
        return to_mpa if line is None else float(self.convert(line.back(to_mpa)))

    def variance(self, from_mpa: FloatArray | float, age_h: float) -> FloatArray:
        """Relative variance of a new batch's strength about the converted one, any shape."""
        drifted = self.drift * (np.log(age_h) - self.drift_about)
        return np.asarray(self.inflation * self.line.variance(from_mpa) + drifted**2)


def stated_conversion(from_geometry: str, to_geometry: str, *, factor: float, factor_cv: float) -> Conversion:
    """A factor that the plan states, with its scatter from batch to batch."""
    line = Line("ratio", factor, 1.0, np.zeros((2, 2)), factor_cv)
    return Conversion(from_geometry=from_geometry, to_geometry=to_geometry, form="stated factor", line=line)


def estimated_conversion(from_geometry: str, to_geometry: str, pairs: Pairs) -> Conversion | None:
    """What the pairs tell; None where fewer than three batches have any."""
    if len(pairs.batches) < FEWEST_BATCHES:
        return None
    judged = judge_forms(pairs)
    form = chosen_form(judged)
    taken = judged[form]
    slope, about = _drift(pairs, taken.whole)
    return Conversion(
        from_geometry=from_geometry,
        to_geometry=to_geometry,
        form=form,
        line=taken.whole,
        inflation=_inflation(pairs, taken),
        drift=slope,
        drift_about=about,
        pairs=pairs,
        judged=judged,
    )


def _inflation(pairs: Pairs, taken: Judged) -> float:
    """Mean square of batches left out, noise of their specimens taken out, over what their lines say; at least 1."""
    noise = (pairs.to_sd_mpa / pairs.to_mpa) ** 2 + (taken.whole.exponent * pairs.from_sd_mpa / pairs.from_mpa) ** 2
    said = [float(taken.left_out[b].variance(x)) for b, x in zip(pairs.batch, pairs.from_mpa, strict=True)]
    count = np.bincount(pairs.cluster)
    found = np.bincount(pairs.cluster, weights=taken.residual**2 - noise) / count
    stated = np.bincount(pairs.cluster, weights=said) / count
    if stated.mean() <= 0.0:
        return 1.0
    return float(max(1.0, found.mean() / stated.mean()))


def _drift(pairs: Pairs, line: Line) -> tuple[float, float]:
    """Slope of the residual with the logarithm of age over batches, 0 where chance gives it too, and its middle."""
    log_age, cluster = np.log(pairs.age_h), pairs.cluster
    residual = np.log(line.convert(pairs.from_mpa) / pairs.to_mpa)
    slopes = []
    for batch in range(len(pairs.batches)):
        held = cluster == batch
        about = log_age[held] - log_age[held].mean()
        if about @ about > 0.0:
            slopes.append(float(about @ residual[held] / (about @ about)))
    if len(slopes) < FEWEST_BATCHES:
        return 0.0, 0.0
    mean, error = float(np.mean(slopes)), float(np.std(slopes, ddof=1)) / np.sqrt(len(slopes))
    if error <= 0.0:
        return 0.0, 0.0
    chance = 2.0 * float(stdtr(len(slopes) - 1, -abs(mean) / error))
    return (mean, float(log_age.mean())) if chance < TELLING_SHARE else (0.0, 0.0)
