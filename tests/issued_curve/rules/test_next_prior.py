"""What checks say of the next batch, against dense normal conditioning and by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.issued_curve.rules.companions import Companions
from planner.issued_curve.rules.next_prior import next_prior
from planner.issued_curve.rules.site_check import Pour, SiteCheck


def pour(difference: float, n_specimens: int = 3) -> Pour:
    companions = Companions(
        batch="P",
        age_h=24.0,
        maturity_h=24.0,
        read_mpa=30.0,
        broken_mpa=30.0 * (1 + difference),
        n_specimens=n_specimens,
    )
    return Pour(checks=(SiteCheck(companions=companions, within_test_cv=0.03, safe_mpa=None),))


@pytest.mark.parametrize("n_curves", [1, 2, 9])
def test_next_batch_is_that_of_a_dense_normal_law(n_curves: int) -> None:
    later, differences, counts = 0.116, [-0.05, 0.02, -0.11, -0.08], [2, 3, 4, 1]
    found = next_prior(
        [pour(*cell) for cell in zip(differences, counts, strict=True)], later_rms=later, n_curves=n_curves
    )
    tau = later**2 / (1 + 1 / n_curves)  # between batches; the mean of n trial batches departs by tau / n
    joint = np.full((5, 5), tau / n_curves) + np.diag([tau] * 5)
    joint[:4, :4] += np.diag([0.03**2 / n for n in counts])
    gain = np.linalg.solve(joint[:4, :4], joint[:4, 4])
    assert found.expected == pytest.approx(gain @ differences, rel=1e-9)
    assert found.sd_after == pytest.approx(np.sqrt(joint[4, 4] - gain @ joint[:4, 4]), rel=1e-9)
    assert found.sd_before == pytest.approx(np.sqrt(joint[4, 4]))
    assert found.n_pours == 4


def test_nothing_checked_changes_nothing() -> None:
    found = next_prior([], later_rms=0.1, n_curves=1)
    assert (found.expected, found.n_pours) == (0.0, 0)
    assert found.sd_after == pytest.approx(found.sd_before)


@pytest.mark.parametrize("wrong", [{"later_rms": 0.0}, {"n_curves": 0}])
def test_impossible_figures_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="above 0 and a curve of one batch or more"):
        next_prior([], **({"later_rms": 0.1, "n_curves": 1} | wrong))
