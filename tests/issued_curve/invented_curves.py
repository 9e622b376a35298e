"""Issued curves for tests: a hyperbola with round constants, and what may be said of it."""

from __future__ import annotations

from typing import Any

from planner.issued_curve.calibration.issued import BatchCurve, IssuedCurve, Promise
from planner.terms.maturity import MaturitySetting
from planner.terms.results.after_casting.pour_model import Knot, PourModel, TrialMean

EQUIVALENT_AGE = MaturitySetting("equivalent age", 5000.0, 20.0)


def promise(**given: Any) -> Promise:
    """Round figures, those given in their place."""
    figures: dict[str, Any] = {
        "own_rms": 0.035,
        "later_rms": 0.116,
        "within_test_cv": 0.03,
        "companions_per_check": 3,
        "safe_factor": 1.27,
        "n_batches": 9,
        "tolerance": 0.10,
        "assurance": 0.90,
    }
    return Promise(**(figures | given))


def hyperbola(ultimate_mpa: float = 50.0, *, batch: str = "T1") -> BatchCurve:
    """S = Su (t - 4) / (t - 4 + 20), fitted to ages from 5 h to 28 d."""
    return BatchCurve(
        batch=batch,
        parameters=(ultimate_mpa, 20.0, 4.0),
        parameter_se=(1.0, 0.8, 0.1),
        knots_h=(5.0, 12.0, 24.0, 72.0, 672.0),
    )


def issued_curve(**given: Any) -> IssuedCurve:
    """The curve of one trial batch, with what is given in place."""
    fields: dict[str, Any] = {
        "number": 1,
        "supersedes": None,
        "title": "Overnight panels",
        "mix": "rapid mix",
        "geometry": "cylinder 100x200 mm",
        "property": "compressive",
        "curve": "hyperbolic",
        "weighting": "relative",
        "maturity": EQUIVALENT_AGE,
        "batches": (hyperbola(),),
        "basis": "trial",
        "is_calibrated": True,
        "span_h": (5.0, 672.0),
        "temperature_c": (12.0, 30.0),
        "standard_c": 20.0,
        "target_ages_h": (12.0, 24.0),
        "promise": promise(),
        "inputs": (("plan.toml", "sha256:00"), ("trial.csv", "sha256:11")),
        "version": "0.1.0",
    }
    return IssuedCurve(**(fields | given))


def pour_model(**given: Any) -> PourModel:
    """Nine batches about a mean curve through 10, 18, 30 and 50 MPa, and one trial batch 6 % stronger."""
    columns = ((5.0, 10.0, 0.9, 0.06), (8.0, 18.0, 0.7, 0.05), (24.0, 30.0, 0.35, 0.04), (672.0, 50.0, 0.1, 0.03))
    fields: dict[str, Any] = {
        "reading": "records and trial",
        "knots": tuple(
            Knot(maturity_h=maturity, strength_mpa=strength, slope=slope, cv=cv, noise=1e-4 * place)
            for place, (maturity, strength, slope, cv) in enumerate(columns, start=1)
        ),
        "scale_sd": 0.07,
        "rate_sd": 0.11,
        "departure_sd": 0.02,
        "n_batches": 9,
        "n_freedom": 9.02,
        "widening": 1.21,
        "span_h": (4.8, 680.0),
        "least_strength_mpa": 3.0,
        "trials": (
            (
                TrialMean(maturity_h=5.2, mean_mpa=11.2, n_specimens=3),
                TrialMean(maturity_h=26.0, mean_mpa=32.5, n_specimens=2),
            ),
        ),
    }
    return PourModel(**(fields | given))
