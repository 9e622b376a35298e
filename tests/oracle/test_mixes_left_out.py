"""Mixes left out whole, against the same figures by hand: quantiles, counts that are missing, the worst mixes.

Three kinds of records: many mixes of one batch with a few that grow slowly, many of two batches, and too few.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.read import load_plan
from tests.oracle.plain.candidates import Limits
from tests.oracle.plain.figures import assembled, rms_of
from tests.oracle.plain.later_pours import later_pour_figures, pairs_of
from tests.oracle.plain.mixes import mix_figures, traits_of
from tests.oracle.plain.rule import pick
from tests.oracle.plain.taken import take
from tests.oracle.small_plans import AGES_H, Asked, by_hand, invent, write_plan

CLOSE = {"rtol": 2e-5, "atol": 1e-9}
LIMITS = Limits(AGES_H, 2, 3, (2, 2), 6, least_strength_mpa=4.0)
ASKED = Asked(LIMITS, (12.0,), curves=("logarithmic",), q_k=(5000.0,), by_mix=True, stated_cv=0.04, final_set_h=3.0)
SLOW = {"B11": 30.0, "B22": 40.0}  # too weak at the target to judge by
WEAK_ON_SITE = {"B3": 0.7, "B7": 0.74, "B9": 0.72, "B15": 0.5, "B21": 0.7}
PLANS = {
    "one batch of each": {"seed": 31, "n_batches": 26, "n_mixes": 26, "slower": SLOW, "site_off": WEAK_ON_SITE},
    "two batches of each": {"seed": 32, "n_batches": 30, "n_mixes": 15},
    "five mixes": {"seed": 33, "n_batches": 10, "n_mixes": 5},
}
N_WEAK = {"one batch of each": 2, "two batches of each": 0, "five mixes": 0}


@pytest.fixture(scope="module", params=PLANS)
def both(request, tmp_path_factory):
    """The program's answer, every choice by hand, and what the rule takes without each mix."""
    folder = tmp_path_factory.mktemp("plan")
    invent(folder, target_h=12.0, n_each=2, mix_step=0.02, **PLANS[request.param])
    advice = recommend(load_plan(write_plan(folder, ASKED)), n_draws=20, workers=1)
    candidates = by_hand(folder, ASKED)
    used = [candidates.of(take(candidates, unit).row) for unit in range(len(candidates.study.units))]
    return advice, candidates, used, request.param


def test_the_capped_loss_ranks(both):
    stated, candidates, *_ = both
    units = list(range(len(candidates.study.units)))
    lowest, taken = pick(candidates, units), take(candidates)
    for found, row in ((stated.best, lowest.best), (stated.recommended, taken.row)):
        schedule, joint = candidates.of(row)
        assert (found.schedule.ages_h, found.schedule.specimens) == (schedule.ages_h, schedule.counts)
        assert found.weighting == candidates.joints[joint][1]
        np.testing.assert_allclose(found.score, candidates.loss[row].mean(), rtol=1e-6)
    wanted = {}
    for row, loss in enumerate(candidates.loss.mean(axis=1)):
        schedule = candidates.of(row)[0].ages_h
        wanted[schedule] = min(loss, wanted.get(schedule, np.inf))
    found = dict(zip((s.ages_h for s in stated.choices.schedules), stated.choices.score, strict=True))
    np.testing.assert_allclose([found[ages] for ages in wanted], list(wanted.values()), rtol=1e-6)


def test_some_errors_are_capped_and_levels_are_not(both):
    found, candidates, used, name = both
    at = assembled(candidates, used)
    if name == "one batch of each":
        assert np.any(np.abs(at.error) > 2 * candidates.limits.tolerance)
    np.testing.assert_allclose(found.honest.own_batch.nested_rms, rms_of(candidates, at), **CLOSE)


def test_weak_truths_judge_nothing_and_are_listed(both):
    found, candidates, _, name = both
    said = [caution.text for caution in found.cautions if caution.code == "truths-too-weak"]
    assert len(found.honest.folds) == len(candidates.study.units)
    if not N_WEAK[name]:
        assert said == []
        return
    assert len(candidates.study.units) == PLANS[name]["n_mixes"] - N_WEAK[name]
    assert said[0].startswith("3 truths are weaker than [choices] least_strength_mpa = 4 ")
    assert "B11 site-cured (cool) at 12 h: " in said[0]
    assert f"{N_WEAK[name]} of the batches then judge nothing" in said[0]


def test_order_statistics(both):
    stated, candidates, used, _ = both
    found, wanted = stated.honest.mixes, mix_figures(candidates, used, assurance=0.90)
    for key in ("n_mixes", "n_more_for_quantile", "n_more_for_safe_reading", "is_heavy_tailed"):
        assert getattr(found, key) == wanted[key], key
    for key in ("quantile_abs", "quantile_upper_95", "worst_fifth_share"):
        if wanted[key] is None:
            assert getattr(found, key) is None, key
        else:
            np.testing.assert_allclose(getattr(found, key), wanted[key], err_msg=key, **CLOSE)
    assert found.basis == ("own batch" if pairs_of(candidates, used) is None else "next batch")
    np.testing.assert_allclose(stated.honest.own_batch.within_tolerance_lower_95_free is not None, True)


def test_no_normal_law_bounds_mixes(both):
    found, candidates, used, name = both
    own, later = found.honest.own_batch, found.honest.next_batch
    assert own.rms_upper_95 is None
    assert all(target.rms_upper_95 is None for target in found.honest.per_target)
    assert own.within_tolerance_lower_95 == own.within_tolerance_lower_95_free
    if name == "one batch of each":
        wanted = mix_figures(candidates, used, assurance=0.90)["share_lower"]
        np.testing.assert_allclose(own.within_tolerance_lower_95, wanted, **CLOSE)
        assert later is None
        return
    assert (later.rms_upper_95, later.within_tolerance_lower_95) == (None, None)
    for key, value in later_pour_figures(candidates, used).items():
        if "95" not in key:
            np.testing.assert_allclose(getattr(later, key), value, err_msg=key, **CLOSE)
    programme = found.spending.recommended.next_batch
    if programme is not None:
        assert (programme.rms_upper_95, programme.within_tolerance_lower_95) == (None, None)
        assert programme.safe_reading_factor is None


def test_safe_reading(both):
    found, candidates, used, name = both
    wanted = mix_figures(candidates, used, assurance=0.90)
    if name == "one batch of each":
        np.testing.assert_allclose(found.honest.safe_reading_factor, wanted["safe_factor"], **CLOSE)
        assert found.honest.safe_reading_basis == "own batch"
    else:
        assert wanted["safe_factor"] is None
        assert found.honest.safe_reading_factor is None
        assert f"it takes {22 - wanted['n_mixes']} more mixes" in found.honest.safe_reading_unknown_because


def test_worst_mixes_and_what_they_have_in_common(both):
    stated, candidates, used, _ = both
    found, wanted = stated.honest.mixes, mix_figures(candidates, used, assurance=0.90)
    assert [worst.mix for worst in found.worst] == [name for name, _ in wanted["worst"]]
    np.testing.assert_allclose([worst.error for worst in found.worst], [e for _, e in wanted["worst"]], **CLOSE)
    traits = traits_of(candidates)
    common = {item.trait.value: item for item in found.in_common}
    worst = wanted["worst_fifth"]
    for trait, values in traits.items():
        own, others = [values[name] for name in worst], [value for name, value in values.items() if name not in worst]
        low, high = np.quantile(list(values.values()), [1 / 3, 2 / 3])
        ends = (max(own) <= low, min(own) >= high)
        assert (trait in common) == (sum(ends) == 1 and len(worst) > 1), trait
        if trait in common:
            assert common[trait].is_low == ends[0]
            np.testing.assert_allclose(common[trait].worst, (min(own), max(own)))
            np.testing.assert_allclose(common[trait].others, (min(others), max(others)))
    np.testing.assert_allclose(
        [item.strength_mpa for item in found.worst],
        [traits["strength at the target"][item.mix] for item in found.worst],
    )


def test_the_headline(both):
    found, candidates, used, name = both
    wanted, text = mix_figures(candidates, used, assurance=0.90), found.honest.sentence
    n = wanted["n_mixes"]
    quantile = f"8 in 10 of {n} mixes left out are read within {100 * wanted['quantile_abs']:.1f} %"
    assert quantile in text
    assert text.startswith(quantile) == wanted["is_heavy_tailed"]
    if wanted["quantile_upper_95"] is None:
        assert f"to bound that takes {14 - n} more mixes" in text
    else:
        assert f"(of all such mixes at most {100 * wanted['quantile_upper_95']:.1f} % at 95 %)" in text
    assert wanted["wanted_share_reach"] is None
    assert f"that takes 29 mixes or more, {29 - n} more than these" in text
    if wanted["is_heavy_tailed"]:
        assert f"{-(-n // 5)} worst mixes make {100 * wanted['worst_fifth_share']:.0f} %" in text
    if name != "five mixes":
        assert re.search(rf"Worst: {wanted['worst'][0][0]} [+-]\d", text)


def test_the_many_mixes_have_heavy_tails_and_a_trait_in_common(both):
    found, *_, name = both
    if name == "one batch of each":
        assert found.honest.mixes.is_heavy_tailed
        assert [item.trait.value for item in found.honest.mixes.in_common] == ["strength at the target"]
        assert "all in the lowest third by strength at the target (" in found.honest.sentence
    else:
        assert not found.honest.mixes.is_heavy_tailed
