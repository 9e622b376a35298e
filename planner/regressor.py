"""Strength over maturity as a scikit-learn regressor, for those who keep their breaks in arrays.

Use it to fit one batch, to put a curve into a pipeline or to cross-validate it with scikit-learn's own
tools. It knows nothing of schedules; the planner does not use it.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils import Tags
from sklearn.utils.validation import check_is_fitted, validate_data

from planner.curves import CURVES
from planner.fitting.twin import fit_weighted
from planner.terms.arrays import FloatArray
from planner.terms.settings import CurveName


class StrengthMaturityRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """A strength-maturity curve fitted to individual breaks by least squares.

    Every break counts once, whether its replicates are many or few. (The planner itself fits cell means,
    each counted once.) With "relative" weighting an error counts as a share of the mean of all breaks at
    the same maturity.

    Parameters
    ----------
    curve
        A name in ``planner.curves.CURVES``.
    weighting
        "absolute" or "relative" errors.
    maturity_column
        The column of X that holds maturity [h]. Further columns are not used, but must not be negative
        either: scikit-learn's tag for positive input speaks of the whole table.

    Attributes
    ----------
    parameters_
        Fitted parameters in the order of the curve, shape ``(n_parameters,)``.
    maturity_h_
        Distinct maturities of the breaks [h], the knots of piecewise curves, shape ``(n_ages,)``.
    is_at_bound_
        Whether a shape parameter ended at one of its bounds.
    """

    def __init__(
        self,
        curve: CurveName = "hyperbolic",
        weighting: Literal["absolute", "relative"] = "absolute",
        *,
        maturity_column: int = 0,
    ) -> None:
        self.curve = curve
        self.weighting = weighting
        self.maturity_column = maturity_column

    def fit(self, X: ArrayLike, y: ArrayLike) -> StrengthMaturityRegressor:
        """Fit the curve.

        Parameters
        ----------
        X
            Maturity of each break [h], not below 0, shape ``(n_breaks, 1)``; or a wider table with
            maturity in `maturity_column`.
        y
            Strength of each break [MPa], shape ``(n_breaks,)``.

        Raises
        ------
        ValueError
            Where a setting is not known, a maturity is negative, or there are too few distinct maturities
            for the curve.
        """
        self._check_settings()
        table, strength_mpa = validate_data(
            self, X, y, dtype=np.float64, y_numeric=True, ensure_min_samples=CURVES[self.curve].fewest_ages
        )
        distinct_h, cell = np.unique(self._maturity(table), return_inverse=True)
        n_replicates = np.bincount(cell)
        mean_mpa = np.bincount(cell, weights=strength_mpa) / n_replicates
        weights = n_replicates * (1.0 if self.weighting == "absolute" else _inverse_squares(mean_mpa))
        fit = fit_weighted(self.curve, distinct_h, mean_mpa, weights)
        self.parameters_ = fit.parameters
        self.is_at_bound_ = fit.is_at_bound
        self.maturity_h_ = distinct_h
        return self

    def predict(self, X: ArrayLike) -> FloatArray:
        """Read the fitted curve [MPa] at maturities [h], a table as in `fit`; returns shape ``(n,)``."""
        check_is_fitted(self)
        table = validate_data(self, X, dtype=np.float64, reset=False)
        return CURVES[self.curve].strength(self._maturity(table), self.parameters_, knots_h=self.maturity_h_)

    def __sklearn_tags__(self) -> Tags:
        """Say that maturities are never negative, and that columns beside maturity explain nothing."""
        tags = super().__sklearn_tags__()
        tags.input_tags.positive_only = True
        tags.regressor_tags.poor_score = True
        return tags

    def _check_settings(self) -> None:
        wrong = []
        if self.curve not in CURVES:
            wrong.append(f"curve must be one of {', '.join(map(repr, CURVES))}, given {self.curve!r}")
        if self.weighting not in ("absolute", "relative"):
            wrong.append(f"weighting must be 'absolute' or 'relative', given {self.weighting!r}")
        if wrong:
            raise ValueError("; ".join(wrong) + ".")

    def _maturity(self, table: Any) -> FloatArray:
        if not 0 <= self.maturity_column < table.shape[1]:
            raise ValueError(
                f"maturity_column must name one of the {table.shape[1]} columns from 0, given {self.maturity_column}."
            )
        if np.any(table < 0):
            raise ValueError(
                f"Negative values in data passed to StrengthMaturityRegressor: maturity must not be "
                f"below 0 h, and no other column either, given {float(table.min()):g}."
            )
        return np.asarray(table[:, self.maturity_column], dtype=np.float64)


def _inverse_squares(mean_mpa: FloatArray) -> FloatArray:
    if np.any(mean_mpa == 0):
        raise ValueError("Relative errors need mean strengths other than 0 MPa at every maturity.")
    return np.asarray(mean_mpa**-2.0, dtype=np.float64)
