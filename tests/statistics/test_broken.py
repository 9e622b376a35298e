"""The judge of the studies, held against answers known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.terms.maturity import MaturitySetting
from planner.terms.schedule import Schedule
from tests.statistics.broken import Broken, Fit, all_fits, first_means, true_rms_of_all

BY_AGE = MaturitySetting("age")
STRAIGHT = Fit("piecewise linear", "absolute", BY_AGE)


def straight_batches(*, truth_mpa: tuple[float, float]) -> Broken:
    """Two batches that gain 1 and 2 MPa an hour, read at 3 h; a second specimen breaks 2 MPa high."""
    specimens_mpa = np.array([[[2.0, 4.0], [4.0, 6.0]], [[4.0, 6.0], [8.0, 10.0]]])
    return Broken(
        ages_h=np.array([2.0, 4.0]),
        counts=(1, 2),
        mean_mpa=first_means(specimens_mpa, (1, 2)),
        settings=(BY_AGE,),
        maturity_h=np.full((1, 2, 2), [2.0, 4.0]),
        check_maturity_h=np.full((1, 2, 1), 3.0),
        check_truth_mpa=np.array(truth_mpa)[:, None],
    )


def test_errors_follow_the_counts() -> None:
    broken = straight_batches(truth_mpa=(3.0, 6.0))
    one, two, mixed = (Schedule((2.0, 4.0), counts) for counts in ((1, 1), (2, 2), (2, 1)))
    errors = broken.errors([one, two, mixed], STRAIGHT)
    assert errors.shape == (3, 2, 1)
    # means 1 MPa high at both ages, then at the early one only
    np.testing.assert_allclose(errors[:, :, 0], [[0.0, 0.0], [1 / 3, 1 / 6], [1 / 6, 1 / 12]], atol=1e-12)
    assert broken.rms([two], STRAIGHT)[0] == pytest.approx(np.sqrt((1 / 9 + 1 / 36) / 2))


def test_later_batches_are_read_off_another_curve() -> None:
    broken = straight_batches(truth_mpa=(3.0, 6.0))
    errors = broken.errors([Schedule((2.0, 4.0), (1, 1))], STRAIGHT, shift=1)[0, :, 0]
    np.testing.assert_allclose(errors, [3.0 / 6.0 - 1.0, 6.0 / 3.0 - 1.0], atol=1e-12)


def test_a_biased_truth_shows() -> None:
    broken = straight_batches(truth_mpa=(2.0, 4.0))
    np.testing.assert_allclose(broken.errors([Schedule((2.0, 4.0), (1, 1))], STRAIGHT), 0.5, atol=1e-12)


def test_too_few_ages_for_a_curve_are_infinite() -> None:
    rms = true_rms_of_all(
        straight_batches(truth_mpa=(3.0, 6.0)), [Schedule((2.0, 4.0), (1, 1))], all_fits((BY_AGE,)), n_workers=1
    )
    by_curve = dict(zip([(fit.curve, fit.weighting) for fit in all_fits((BY_AGE,))], rms[:, 0], strict=True))
    assert len(by_curve) == 8
    assert np.isinf(by_curve["hyperbolic", "absolute"])
    assert by_curve["piecewise linear", "absolute"] == pytest.approx(0.0, abs=1e-12)
