"""The recommended curve fitted to breaks that are kept in arrays: read it, draw it, see its parameters.

For notebooks. What a site relies on is the issued curve of :func:`planner.issue_curve`, which is judged by companions
and knows its safe readings; a reading here is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from planner.curves import CURVES
from planner.curves.fitted_strength import names_of_parameters
from planner.evidence.maturity_grid import BreakMaturity
from planner.evidence.within_test_scatter import within_test_scatter
from planner.issued_curve.calibration.batch_fit import BatchFit, fit_batch
from planner.issued_curve.calibration.batch_means import batch_means
from planner.maturity import maturity_at
from planner.resampling.priors.from_records import LearntCurves
from planner.terms.arrays import FloatArray
from planner.terms.labels import age_label
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, Prior
from planner.terms.records import Break, CuringRecord
from planner.terms.results.recommended.rated_choice import RatedChoice

if TYPE_CHECKING:
    import pandas as pd

BATCH = "trial"
N_DRAWN = 200  # points of the drawn curve


@dataclass(frozen=True, slots=True, eq=False)
class RecommendedCurve:
    """A curve of strength [MPa] over maturity [h at the reference temperature], fitted to one batch."""

    fit: BatchFit
    maturity: MaturitySetting
    learnt_span_h: tuple[float, float] | None = None  # of a curve with a prior: maturities of the earlier batches

    @property
    def span_h(self) -> tuple[float, float]:
        """Maturities of the youngest and the oldest break [h]; beyond them the curve is a guess.

        Of a curve with a prior, those of the earlier batches that it has learnt from.
        """
        if self.learnt_span_h is not None:
            return self.learnt_span_h
        return float(self.fit.means.maturity_h[0]), float(self.fit.means.maturity_h[-1])

    @property
    def parameters(self) -> pd.DataFrame:
        """Parameters with their standard errors from the scatter of the specimens, one a row."""
        import pandas as pd

        curve = self.fit.fit.curve
        has_names = curve in PRIOR_CURVE_NAMES or CURVES[curve].parameter_names
        names = (
            names_of_parameters(curve, len(self.fit.fit.parameters))
            if has_names
            else tuple(f"mean_mpa at {maturity:g} h" for maturity in self.fit.fit.knots_h)
        )
        columns = {"value": self.fit.fit.parameters, "standard_error": self.fit.parameter_se}
        return pd.DataFrame(columns, index=pd.Index(names, name="parameter"))

    def predict(self, maturity_h: ArrayLike) -> FloatArray:
        """Read the curve [MPa] at maturities [h at the reference temperature], above 0, shape ``(n,)``."""
        return self.fit.fit.predict(maturity_h)

    def strength(self, elapsed_h: ArrayLike, temperature_c: ArrayLike, *, age_h: ArrayLike | None = None) -> FloatArray:
        """Read the curve [MPa] for concrete with a temperature record.

        Parameters
        ----------
        elapsed_h, temperature_c
            Readings inside the concrete: hours since casting, rising, and degrees C, ``(n_readings,)``.
        age_h
            Ages to read at [h], not beyond the record, ``(n,)``; at every reading where None.

        Returns
        -------
        FloatArray
            0 MPa where maturity is 0, ``(n,)``.

        Raises
        ------
        ValueError
            Where the record does not rise, or an age lies beyond it.
        """
        times_h = np.asarray(elapsed_h, dtype=np.float64)
        ages_h = times_h if age_h is None else np.asarray(age_h, dtype=np.float64)
        maturity_h = maturity_at(
            ages_h, times_h, np.asarray(temperature_c, dtype=np.float64), self.maturity, continued_c=None
        )
        strength_mpa = np.zeros(maturity_h.shape)
        is_told = maturity_h > 0
        strength_mpa[is_told] = self.predict(maturity_h[is_told])
        return strength_mpa

    def plot(self, axes: Any = None) -> Any:
        """Draw the curve and the means of its breaks over maturity; returns the axes of matplotlib.

        Raises
        ------
        InputError
            Where matplotlib is not installed.
        """
        from planner.report.text.needed_library import OF_FIGURES

        OF_FIGURES.check()
        if axes is None:
            from matplotlib.figure import Figure

            axes = Figure(layout="constrained").add_subplot()
        means, drawn_h = self.fit.means, np.geomspace(*self.span_h, N_DRAWN)
        axes.plot(drawn_h, self.predict(drawn_h), label=self.fit.fit.curve)
        axes.errorbar(
            means.maturity_h, means.mean_mpa, yerr=means.mean_sd_mpa, fmt="o", label="means and standard errors"
        )
        axes.set(xscale="log", xlabel=f"maturity [h] ({self.maturity})", ylabel="strength [MPa]")
        axes.legend()
        return axes

    def __repr__(self) -> str:
        first_h, last_h = self.span_h
        return f"{self.fit.fit.curve} curve from {first_h:.4g} to {last_h:.4g} h ({self.maturity})\n{self.parameters}"

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(repr(self).splitlines()[0])}</p>{self.parameters.to_html()}"


def recommended_curve(
    choice: RatedChoice,
    prior: Prior,
    age_h: ArrayLike,
    strength_mpa: ArrayLike,
    *,
    elapsed_h: ArrayLike | None = None,
    temperature_c: ArrayLike | None = None,
    learnt: LearntCurves | None = None,
) -> RecommendedCurve:
    """Fit the curve of a choice to the breaks of one batch.

    Parameters
    ----------
    choice
        Its curve, weighting and maturity constants are used.
    prior
        The plan's: temperature of standard curing, stated scatter.
    age_h, strength_mpa
        Age [h] and strength [MPa] of every specimen, above 0, ``(n_breaks,)``.
    elapsed_h, temperature_c
        Temperatures of the specimens: hours since casting and degrees C, ``(n_readings,)``. Left out: they were
        cured at the plan's standard temperature.
    learnt
        What curves with a prior have learnt from the plan's earlier batches.

    Raises
    ------
    ValueError
        Where lengths differ, values are not above 0, temperatures are missing, there are too few ages, or a curve with
        a prior has nothing learnt or is to be fitted outside what it has learnt from.
    """
    ages, strengths = np.asarray(age_h, dtype=np.float64), np.asarray(strength_mpa, dtype=np.float64)
    _check_breaks(ages, strengths)
    records: tuple[CuringRecord, ...] = ()
    if elapsed_h is not None and temperature_c is not None:
        times_h, degrees_c = np.asarray(elapsed_h, dtype=np.float64), np.asarray(temperature_c, dtype=np.float64)
        records = (
            CuringRecord(batch=BATCH, curing="standard", placement="", elapsed_h=times_h, temperature_c=degrees_c),
        )
    elif (elapsed_h is None) != (temperature_c is None):
        raise ValueError("A temperature record needs both elapsed_h and temperature_c. Give both, or neither.")
    elif prior.standard_curing_c is None and choice.maturity.method != "age":
        raise ValueError(
            "The plan states no standard_curing_c, so the breaks have no maturity. Give elapsed_h and temperature_c."
        )
    breaks = [
        Break(
            batch=BATCH, mix="", curing="standard", age_h=float(age), tested_h=float(age), strength_mpa=float(strength)
        )
        for age, strength in zip(ages, strengths, strict=True)
    ]
    break_maturity = BreakMaturity(records, prior.standard_curing_c)
    means = batch_means(breaks, break_maturity, choice.maturity, within_test_scatter(breaks, prior))
    if choice.curve not in PRIOR_CURVE_NAMES:
        return RecommendedCurve(fit_batch(means, choice.curve, choice.weighting), choice.maturity)
    if learnt is None or choice.curve not in learnt.numbers:
        raise ValueError(
            f"The {choice.curve} is fitted with what it has learnt from the plan's earlier batches, and none are here. "
            "Use the advice that planner.recommend returned for the plan, or planner.issue_curve."
        )
    outside = [at for at in means.maturity_h.tolist() if not learnt.holds(at)]
    if outside:
        raise ValueError(
            f"Maturities of {', '.join(f'{at:.4g} h' for at in outside)} lie outside those that the {choice.curve} has "
            f"learnt from, {learnt.span_h[0]:.4g} to {learnt.span_h[1]:.4g} h. Leave these breaks out."
        )
    fit = fit_batch(means, choice.curve, choice.weighting, learnt=learnt.numbers[choice.curve])
    return RecommendedCurve(fit, choice.maturity, learnt.span_h)


def _check_breaks(ages: FloatArray, strengths: FloatArray) -> None:
    if ages.ndim != 1 or ages.shape != strengths.shape or not ages.size:
        raise ValueError(f"Every break has an age and a strength, given shapes {ages.shape} and {strengths.shape}.")
    is_wrong = ~(np.isfinite(ages) & np.isfinite(strengths) & (ages > 0) & (strengths > 0))
    if np.any(is_wrong):
        text = ", ".join(
            f"{strength:g} MPa at {age_label(float(age)) if np.isfinite(age) else age}"
            for age, strength in zip(ages[is_wrong][:10], strengths[is_wrong][:10], strict=True)
        )
        raise ValueError(f"Ages and strengths must be finite and above 0, given {text}. Leave these breaks out.")
