"""Strength over maturity as a scikit-learn regressor, for those who keep their breaks in arrays.

Use it to fit one batch, to put a curve into a pipeline or to cross-validate it with scikit-learn's own
tools. It knows nothing of schedules; the planner does not use it.
"""

from __future__ import annotations

import warnings
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils import Tags
from sklearn.utils.validation import _check_sample_weight, check_is_fitted, validate_data

from planner.curves import CURVES
from planner.fitting.single import fit_weighted
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName


class StrengthMaturityRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """A strength-maturity curve fitted to individual breaks by least squares.

    Concrete of maturity 0 has no strength: breaks there tell nothing of the curve and are not fitted, and curves in
    the logarithm of maturity, which have no value there, are read as 0 MPa.

    Parameters
    ----------
    curve
        A name in ``planner.curves.CURVES``.
    weighting
        "absolute" or "relative" errors, the latter as shares of the mean of all breaks at the same maturity; where
        that is 0 MPa, of the weakest mean that is not.
    maturity_column
        The column of X that holds maturity [h]: its place from 0, or its heading where X is a table with headings.
        Further columns are not used, but must not be negative either: scikit-learn's tag for positive input speaks
        of the whole table.
    counts_once
        "age": the mean of every maturity counts once, whether its replicates are many or few, as the planner counts.
        "break": every break counts once.

    Attributes
    ----------
    parameters_
        Fitted parameters in the order of the curve, shape ``(n_parameters,)``.
    maturity_h_
        Distinct maturities of the fitted breaks [h], the knots of piecewise curves, shape ``(n_ages,)``.
    is_at_bound_
        Whether a shape parameter ended at one of its bounds.
    """

    def __init__(
        self,
        curve: CurveName = "hyperbolic",
        weighting: Literal["absolute", "relative"] = "absolute",
        *,
        maturity_column: int | str = 0,
        counts_once: Literal["age", "break"] = "age",
    ) -> None:
        self.curve = curve
        self.weighting = weighting
        self.maturity_column = maturity_column
        self.counts_once = counts_once

    def fit(self, X: ArrayLike, y: ArrayLike, sample_weight: ArrayLike | None = None) -> StrengthMaturityRegressor:
        """Fit the curve.

        Parameters
        ----------
        X
            Maturity of each break [h], not below 0, shape ``(n_breaks, 1)``; or a wider table with
            maturity in `maturity_column`.
        y
            Strength of each break [MPa], shape ``(n_breaks,)``.
        sample_weight
            How much each break counts beside its replicates, and, where every break counts, beside the others; a
            break of weight 0 is as good as not there, one of weight 2 as good as two. Shape ``(n_breaks,)``.

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
        share = _check_sample_weight(sample_weight, table, dtype=np.float64, ensure_non_negative=True)
        maturity_h = self._maturity(table)
        is_told = (maturity_h > 0) & (share > 0)
        distinct_h, cell = np.unique(maturity_h[is_told], return_inverse=True)
        self._check_ages(len(distinct_h), has_zero=bool(np.any((maturity_h == 0) & (share > 0))))
        total = np.bincount(cell, weights=share[is_told])
        mean_mpa = np.bincount(cell, weights=(share * strength_mpa)[is_told]) / total
        weights: FloatArray = np.ones(len(total)) if self.counts_once == "age" else np.asarray(total, dtype=np.float64)
        if self.weighting == "relative":
            weights = weights * _inverse_squares(mean_mpa)
        fit = fit_weighted(self.curve, distinct_h, mean_mpa, weights)
        self.parameters_ = fit.parameters
        self.is_at_bound_ = fit.is_at_bound
        self.maturity_h_ = distinct_h
        return self

    def predict(self, X: ArrayLike) -> FloatArray:
        """Read the fitted curve [MPa] at maturities [h], a table as in `fit`; returns shape ``(n,)``."""
        check_is_fitted(self)
        table = validate_data(self, X, dtype=np.float64, reset=False)
        maturity_h = self._maturity(table)
        is_told = (maturity_h > 0) | (self.curve not in LOGARITHMIC)
        strength_mpa = np.zeros(len(maturity_h))
        strength_mpa[is_told] = CURVES[self.curve].strength(
            maturity_h[is_told], self.parameters_, knots_h=self.maturity_h_
        )
        return strength_mpa

    def __sklearn_tags__(self) -> Tags:
        """Say that maturities are never negative, and that columns beside maturity explain nothing."""
        tags = super().__sklearn_tags__()
        tags.input_tags.positive_only = True
        tags.regressor_tags.poor_score = True
        return tags

    def _check_settings(self) -> None:
        wrong = []
        if self.curve not in CURVES:
            learns = "; it learns from other batches, see Advice.curve" if self.curve in PRIOR_CURVE_NAMES else ""
            wrong.append(f"curve must be one of {', '.join(map(repr, CURVES))}, given {self.curve!r}{learns}")
        if self.weighting not in ("absolute", "relative"):
            wrong.append(f"weighting must be 'absolute' or 'relative', given {self.weighting!r}")
        if self.counts_once not in ("age", "break"):
            wrong.append(f"counts_once must be 'age' or 'break', given {self.counts_once!r}")
        if wrong:
            raise ValueError("; ".join(wrong) + ".")

    def _check_ages(self, n_ages: int, *, has_zero: bool) -> None:
        """Refuse too few distinct maturities; warn where maturity 0 makes up the number and the fit is not unique."""
        needed = CURVES[self.curve].fewest_ages
        said = f"The {self.curve} curve needs {needed} or more distinct maturities above 0 h, given {n_ages}"
        if n_ages >= needed:
            return
        if n_ages < max(2, needed - has_zero):
            raise ValueError(f"{said}.")
        warnings.warn(f"{said} and breaks at 0 h: it goes through all of them, as others would.", stacklevel=3)

    def _maturity(self, table: Any) -> FloatArray:
        place = self._place(table.shape[1])
        if np.any(table < 0):
            raise ValueError(
                f"Negative values in data passed to StrengthMaturityRegressor: maturity must not be "
                f"below 0 h, and no other column either, given {float(table.min()):g}."
            )
        return np.asarray(table[:, place], dtype=np.float64)

    def _place(self, n_columns: int) -> int:
        """Where maturity stands in the table."""
        given, headings = self.maturity_column, list(getattr(self, "feature_names_in_", ()))
        if isinstance(given, str):
            if given in headings:
                return headings.index(given)
            known = f"the headings are {', '.join(map(repr, headings))}" if headings else "the table has no headings"
            raise ValueError(
                f"maturity_column names the heading {given!r}, but {known}. Give a heading, or a place from 0."
            )
        if isinstance(given, bool) or not isinstance(given, int | np.integer) or not 0 <= given < n_columns:
            raise ValueError(
                f"maturity_column must name one of the {n_columns} columns, by its place from 0 or by its heading, "
                f"given {given!r}."
            )
        return int(given)


LOGARITHMIC = ("logarithmic", "piecewise linear in log age")  # curves without a value at maturity 0


def _inverse_squares(mean_mpa: FloatArray) -> FloatArray:
    """Weights of relative errors; nothing is a share of 0 MPa, so that it is weighed like the weakest other mean."""
    is_told = mean_mpa != 0
    weakest_mpa = np.abs(mean_mpa[is_told]).min() if is_told.any() else 1.0
    return np.asarray(np.where(is_told, mean_mpa, weakest_mpa) ** -2.0, dtype=np.float64)
