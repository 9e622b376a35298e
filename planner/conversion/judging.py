"""Which form serves: each is judged on the pairs of batches left out of its fit; the simplest that ties is taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from planner.conversion.pairs import Pairs
from planner.conversion.regression import Form, Line, fit_line
from planner.terms.arrays import FloatArray

FORMS: tuple[Form, ...] = ("none", "ratio", "power law")
FEWEST_FOR_POWER = 4  # batches: without one of them three are left
TELLING = 2.0  # standard errors by which a ratio must differ from 1, for strengths to be converted at all


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """One form with what it reads on batches left out."""

    whole: Line  # all pairs
    left_out: Mapping[str, Line]  # without each batch
    residual: FloatArray  # of every pair by the line without its batch: converted over measured, less 1
    square: FloatArray  # mean square of each batch's residuals, (n_batches,)

    @property
    def rms(self) -> float:
        """Over batches."""
        return float(np.sqrt(self.square.mean()))


def judge_form(pairs: Pairs, form: Form) -> Judged:
    """Fit a form with and without each batch."""
    left_out = {batch: fit_line(pairs.without(batch), form) for batch in pairs.batches}
    residual = np.empty(len(pairs))
    for i, batch in enumerate(pairs.batch):
        residual[i] = float(left_out[batch].convert(pairs.from_mpa[i])) / pairs.to_mpa[i] - 1.0
    count = np.bincount(pairs.cluster)
    return Judged(fit_line(pairs, form), left_out, residual, np.bincount(pairs.cluster, weights=residual**2) / count)


def judge_forms(pairs: Pairs) -> dict[Form, Judged]:
    """Every form that so many batches can carry."""
    forms = FORMS if len(pairs.batches) >= FEWEST_FOR_POWER else FORMS[:2]
    return {form: judge_form(pairs, form) for form in forms}


def chosen_form(judged: Mapping[Form, Judged]) -> Form:
    """The simplest form that is within one standard error of the best on batches left out.

    Strengths stay unconverted only where the ratio, besides, is no further from 1 than twice its standard error.
    """
    best = min(judged.values(), key=lambda one: one.rms)
    ratio = judged["ratio"].whole
    is_one = abs(np.log(ratio.factor)) <= TELLING * np.sqrt(ratio.covariance[0, 0])
    for form, one in judged.items():
        behind = one.square - best.square
        allowed = float(behind.std(ddof=1)) / np.sqrt(len(behind))
        if behind.mean() <= allowed and (form != "none" or is_one):
            return form
    return best.whole.form
