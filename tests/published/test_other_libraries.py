"""Bounds, growth and maturity against general-purpose libraries that work them out on their own."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from structuralcodes.codes.ec2_2004 import beta_cc, t_T

from planner.maturity import equivalent_age
from planner.population import LAWS
from planner.verdict.statistics.tolerance_bounds import reach, safe_reading_factor

with warnings.catch_warnings():
    warnings.simplefilter("ignore", ResourceWarning)  # it leaves a file open while it is imported
    from toleranceinterval import oneside, twoside

ERRORS = np.array([0.031, -0.012, 0.064, 0.008, -0.027, 0.049, 0.015, 0.022, -0.006, 0.037, 0.011, 0.058])


@pytest.mark.parametrize("n_batches", [3, 4, 5, 8, 12])
@pytest.mark.parametrize(("assurance", "confidence"), [(0.90, 0.90), (0.75, 0.95), (0.95, 0.90)])
def test_safe_reading_is_the_one_sided_tolerance_limit(n_batches, assurance, confidence):
    # toleranceinterval, oneside.normal: upper bound where the share is above one half
    errors = ERRORS[:n_batches]
    wanted = float(oneside.normal(errors, assurance, confidence)[0])
    assert wanted > 0
    found = safe_reading_factor(errors, assurance=assurance, confidence=confidence)
    np.testing.assert_allclose(found, 1.0 + wanted, rtol=1e-9)


@pytest.mark.parametrize("n_batches", [3, 4, 5, 8, 12])
@pytest.mark.parametrize(("content", "confidence"), [(0.90, 0.95), (0.95, 0.95), (0.80, 0.90)])
def test_reach_is_the_two_sided_tolerance_limit(n_batches, content, confidence):
    # toleranceinterval, twoside.normal_factor by its exact method; the reach is told from zero, not from the mean
    errors = ERRORS[:n_batches]
    factor = float(twoside.normal_factor(n_batches, content, confidence, method="exact"))
    wanted = abs(errors.mean()) + factor * errors.std(ddof=1)
    np.testing.assert_allclose(reach(errors, content=content, confidence=confidence), wanted, rtol=1e-6)


@pytest.mark.parametrize(("name", "s"), [("R", 0.20), ("N", 0.25), ("S", 0.38)])
def test_published_growth_is_that_of_the_code(name, s):
    # structuralcodes, ec2_2004.beta_cc: EN 1992-1-1:2004 Eq. (3.2)
    ages_d = np.array([0.5, 1.0, 3.0, 7.0, 27.0, 28.0])
    (law,) = [law for law in LAWS if law.name == f"EN 1992-1-1 class {name}"]
    np.testing.assert_allclose(law.share(ages_d), beta_cc(ages_d, s), rtol=1e-12)


@pytest.mark.parametrize("temperature_c", [5.0, 12.0, 20.0, 30.0, 40.0])
def test_equivalent_age_is_the_effective_age_of_the_code(temperature_c):
    # structuralcodes, ec2_2004.t_T: EN 1992-1-1:2004 Eq. (B.10), sum dt exp(13.65 - 4000 / (273 + T)). It is 0.9981246
    # at 20 C, where ours is 1, and its zero lies 0.15 K off: so ours at temperatures 0.15 K lower, in that ratio.
    days = np.array([0.0, 0.25, 1.0, 3.0])
    theirs = t_T(np.full(3, temperature_c), np.diff(days))
    level = np.full(4, temperature_c - 0.15)
    ours = equivalent_age(24.0 * days, level, q_k=4000.0, reference_c=19.85)[-1] / 24.0
    np.testing.assert_allclose(theirs, ours * np.exp(13.65 - 4000.0 / 293.0), rtol=1e-12)
