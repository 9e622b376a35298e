"""Records with one batch of each mix: what later pours would do is stated in the plan, or not known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from planner.pipeline import recommend
from planner.read import load_plan
from tests.oracle.plain.bounds import safe_factor
from tests.oracle.plain.candidates import Limits
from tests.oracle.plain.figures import assembled, level_of, rms_of, worst_signed
from tests.oracle.plain.rule import folds
from tests.oracle.plain.sufficiency import answer
from tests.oracle.plain.taken import take
from tests.oracle.small_plans import AGES_H, Asked, by_hand, invent, write_plan

SPREAD = 0.06
PLAIN = Asked(Limits(AGES_H, 3, 4, (2, 3), 9), (12.0,), q_k=(5000.0,), final_set_h=3.0)


@pytest.fixture(scope="module", params=[SPREAD, None])
def both(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan")
    invent(folder, seed=8, n_batches=5, target_h=12.0, n_each=3, n_mixes=5)
    asked = replace(PLAIN, stated_spread=request.param)
    advice = recommend(load_plan(write_plan(folder, asked)), n_draws=800, workers=1)
    candidates = by_hand(folder, asked)
    return advice, request.param, candidates


def at_folds(candidates, most=None):
    return assembled(candidates, [candidates.of(each.chosen) for each in folds(candidates, most_specimens=most)])


def taken_without(candidates):
    """What the whole rule takes without each batch, at the checks of that batch."""
    units = range(len(candidates.study.units))
    return assembled(candidates, [candidates.of(take(candidates, unit).row) for unit in units])


def test_later_pour_from_the_stated_spread(both):
    found, spread, candidates = both
    later = found.honest.next_batch
    if spread is None:
        assert later is None
        assert found.honest.next_batch_unknown_because.startswith("no mix in the records has two batches")
        return
    at = taken_without(candidates)
    own = max(level_of(candidates, at)[0], rms_of(candidates, at) ** 2)
    rms = np.sqrt(own + 2 * spread**2)
    np.testing.assert_allclose(later.rms, rms, rtol=1e-5)
    np.testing.assert_allclose(later.between_batch_cv, spread)
    np.testing.assert_allclose(
        later.within_tolerance, stats.norm.cdf(0.1 / rms) - stats.norm.cdf(-0.1 / rms), rtol=1e-5
    )
    np.testing.assert_allclose(later.over_predicted_beyond_tolerance, stats.norm.sf(0.1 / rms), rtol=1e-5)
    trials = [np.sqrt(own + spread**2 * (1 + 1 / m)) for m in (1, 2, 3)]
    np.testing.assert_allclose(later.rms_by_trial_batches, trials, rtol=1e-5)
    assert later.rms_upper_95 is None


def test_safe_reading_is_that_of_the_own_batch(both):
    found, _, candidates = both
    assert found.honest.safe_reading_basis == "own batch"
    wanted = safe_factor(worst_signed(candidates, taken_without(candidates)), assurance=0.90)
    np.testing.assert_allclose(found.honest.safe_reading_factor, wanted, rtol=1e-5)


def test_what_is_enough(both):
    stated, spread, candidates = both
    found = stated.sufficiency
    if spread is None:
        wanted = answer(candidates, 0.90)
        assert found.basis == wanted["basis"] == "own batch"
        assert (found.is_reached, found.n_specimens) == (wanted["is_reached"], wanted["n_specimens"])
        assert found.schedule.specimens == wanted["schedule"].counts
        for name in ("rms", "within_tolerance"):
            np.testing.assert_allclose(getattr(found, name), wanted[name], rtol=2e-5, err_msg=name)
        return
    assert found.basis == "next batch"
    for step in found.steps:
        own = rms_of(candidates, at_folds(candidates, step.most_specimens))
        np.testing.assert_allclose(step.rms, np.sqrt(own**2 + 2 * spread**2), rtol=0.005)
        assert step.within_tolerance_lower_95 is None
    shares = [step.within_tolerance for step in found.steps]
    assert found.is_reached == (max(shares) >= 0.90)
    assert found.within_tolerance == (next(s for s in shares if s >= 0.90) if found.is_reached else max(shares))
