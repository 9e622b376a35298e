"""Issued curves for tests: a hyperbola with round constants, and what may be said of it."""

from __future__ import annotations

from typing import Any

from planner.issued_curve.calibration.issued import BatchCurve, IssuedCurve, Promise
from planner.terms.maturity import MaturitySetting

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
