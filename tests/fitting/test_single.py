"""The fast single fit against the slow twin, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest

from planner.curves import CURVES
from planner.fitting.single import fit_curve
from tests.fitting.one_fit import programmes
from tests.fitting.twin import fit_twin


@pytest.mark.parametrize("weighting", ["absolute", "relative"])
@pytest.mark.parametrize("curve", list(CURVES))
def test_it_fits_as_well_as_the_twin(curve, weighting):
    # Costs, not parameters: where the ages cannot tell these apart, many are equally good.
    for maturity_h, mean_mpa in programmes(12, seed=41):
        fast = fit_curve(curve, maturity_h, mean_mpa, weighting=weighting)
        slow = fit_twin(curve, maturity_h, mean_mpa, weighting=weighting)
        weights = mean_mpa**-2.0 if weighting == "relative" else np.ones_like(mean_mpa)
        cost = float(weights @ (fast.predict(maturity_h) - mean_mpa) ** 2)
        total = float(weights @ mean_mpa**2)
        assert cost <= slow.residual_ss * (1 + 1e-6) + 1e-12 * total
        if curve in ("hyperbolic", "exponential"):
            lowest, highest = CURVES[curve].bounds(maturity_h)
            room = 1e-9 * np.maximum(np.abs(lowest), np.abs(highest))
            assert np.all((lowest - room <= fast.parameters[1:]) & (fast.parameters[1:] <= highest + room))


def test_its_derivative_is_that_of_its_curve():
    maturity_h, mean_mpa = np.array([6.0, 12.0, 24.0, 72.0]), np.array([4.0, 11.0, 19.0, 31.0])
    fit = fit_curve("hyperbolic", maturity_h, mean_mpa, weighting="absolute")
    for i in range(3):
        step = np.zeros(3)
        step[i] = 1e-5
        up, down = (CURVES["hyperbolic"].strength(maturity_h, fit.parameters + sign * step) for sign in (1, -1))
        np.testing.assert_allclose(fit.derivative(maturity_h)[:, i], (up - down) / 2e-5, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(
    ("maturity_h", "mean_mpa"),
    [([6.0, 12.0], [4.0, 11.0]), ([6.0, 12.0, 24.0], [4.0, 0.0, 11.0]), ([6.0, 12.0, 24.0], [4.0, 11.0])],
)
def test_it_refuses_what_it_cannot_fit(maturity_h, mean_mpa):
    with pytest.raises(ValueError, match="needs a mean above 0 MPa at 3 or more maturities"):
        fit_curve("hyperbolic", maturity_h, mean_mpa, weighting="absolute")
