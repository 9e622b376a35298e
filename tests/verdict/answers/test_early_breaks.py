"""What each pour breaks, worked out again pour by pour from the records themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, stats

from planner.fitting.single import fit_curve
from planner.mixed_model import estimate_growth_prior
from planner.mixed_model.carried_prior import prior_of
from planner.pipeline import recommend
from planner.terms.problems import InputError
from planner.terms.records import Records
from planner.verdict.wording.programmes.early_break_words import early_break_sentences
from tests.oracle.plain.inside import of_single_errors
from tests.verdict.answers.early_breaks_by_hand import (
    AGES_H,
    COSTS,
    PLANS,
    POURS,
    TARGETS_H,
    ByHand,
    Cast,
    answer_of,
    answered,
    checks_by_hand,
    level_by_hand,
    picked_without,
    seen_by_others,
    small_plan,
)


@pytest.mark.parametrize(("n_batches", "is_on_site", "n_broken"), [(3, True, 3), (5, True, 3), (4, False, 4)])
def test_figures_of_reading_the_records_by_hand(n_batches: int, is_on_site: bool, n_broken: int) -> None:
    """Five batches compare one trial batch with none: two batches are kept out, one of them put back by the model."""
    plan, _ = answered(n_batches, is_on_site, n_broken)
    answer = answer_of(n_batches, is_on_site, n_broken)
    hand = ByHand(plan)
    assert len(answer.by_trials) == (2 if n_batches == 5 else 1)
    cast = Cast(0, len(answer.by_trials) - 1, {})
    for row in answer.by_trials[0]:
        plans = PLANS[row.n_specimens]
        picked, rms_records = seen_by_others(hand, plans, cast)
        assert row.reading == "records"
        assert row.rms_records == pytest.approx(rms_records, rel=2e-4)
        if n_batches > 3:  # what a fold chooses by has not learnt from its pour
            picked = {batch: picked_without(hand, plans, batch, cast) for batch in hand.batches}
        flat = [one for batch in hand.batches for one in checks_by_hand(hand, picked[batch], batch, cast)]
        weight = np.array([one["weight"] for one in flat])
        mean, floor = (sum(weight * [one[key] for one in flat]) / n_batches for key in ("level", "variance"))
        rms = np.sqrt(max(mean, floor))
        assert row.rms == pytest.approx(rms, rel=2e-4)
        whole = min(plans, key=lambda one: np.mean([level_by_hand(hand, one, batch, cast) for batch in hand.batches]))
        assert (row.ages_h, row.specimens) == (
            tuple(age for age, n in zip(POURS.early_ages_h, whole, strict=True) if n), tuple(n for n in whole if n)
        )  # fmt: skip
        assert row.is_below_resolution == (mean < floor)
        assert row.rms_upper_95 == pytest.approx(rms * np.sqrt(n_batches / stats.chi2(n_batches).ppf(0.05)), rel=2e-4)
        error = np.array([one["error"] for one in flat])
        scaled = error * rms / np.sqrt(np.sum(weight * error**2) / n_batches)
        pour = [batch for batch in hand.batches for _ in checks_by_hand(hand, picked[batch], batch, cast)]
        target = [one["target"] for one in flat]
        inside = of_single_errors(zip(pour, target, weight, np.abs(scaled) <= 0.10, strict=True))
        assert row.within_tolerance == pytest.approx(inside)
        assert row.over_predicted_beyond_tolerance == pytest.approx(np.sum(weight * (scaled > 0.10)) / n_batches)
        stated = np.array([one["stated"] for one in flat])
        wider = max(1.0, rms**2 / (np.sum(weight * stated) / n_batches))
        assert row.widening == pytest.approx(wider, rel=2e-4)
        of_target = [np.array([one["target"] == target for one in flat]) for target in TARGETS_H]
        sds = np.array([np.sqrt(wider * np.average(stated[one], weights=weight[one])) for one in of_target])
        law = stats.t(n_batches - 2 + 0.5 / 0.7**2)
        half = optimize.brentq(lambda x, of=law, sd=sds: np.prod(2.0 * of.cdf(x / sd) - 1.0) - 0.90, 1e-3, 2.0)
        assert row.reads_within == pytest.approx(np.expm1(half), rel=2e-4)
        assert row.safe_reading_factor == pytest.approx(np.exp(law.ppf(0.90) * sds.max()), rel=2e-4)


def test_records_and_trial_batch_together_by_hand() -> None:
    plan, result = answered(5, True, 3)
    found, hand, schedule = answer_of(5, True, 3), ByHand(plan), result.recommended.schedule
    cast = Cast(1, 1, dict(zip(schedule.ages_h, schedule.specimens, strict=True)))
    for row in found.by_trials[1]:
        assert row.rms_records_and_trial == pytest.approx(
            seen_by_others(hand, PLANS[row.n_specimens], cast)[1], rel=2e-4
        )
    assert [row.rms_records for row in found.by_trials[1]] == [row.rms_records for row in found.by_trials[0]]
    assert [row.n_trial_batches for row in found.by_trials[1]] == [1, 1, 1]


def test_two_and_three_trial_batches_are_choices_of_early_breaks_too() -> None:
    """Seven batches, one to three trial batches allowed; what is told of two by hand."""
    plan = small_plan(n_batches=7, is_on_site=False)
    programme = replace(plan.settings.programme_asked, trial_batches=1, most_trial_batches=3)
    plan = replace(plan, settings=replace(plan.settings, programme=programme))
    result = recommend(plan, n_draws=5, workers=1)
    found, hand, schedule = result.early_breaks, ByHand(plan), result.recommended.schedule
    assert found is not None
    assert found.offered == (0, 1, 2, 3)
    assert [[row.n_trial_batches for row in rows] for rows in found.by_trials] == [[m] * 3 for m in range(4)]
    cast = Cast(2, 3, dict(zip(schedule.ages_h, schedule.specimens, strict=True)))
    none, one, _ = found.by_trials[2]
    for row in (none, one):
        by_hand = seen_by_others(hand, PLANS[row.n_specimens], cast)[1]
        assert row.rms_records_and_trial == pytest.approx(by_hand, rel=2e-4)
    assert [model.reading for model in found.models] == [rows[0].reading for rows in found.by_trials]
    assert found.model_of(9) == found.models[3]
    costs = [rows[0].cost_of_calibration for rows in found.by_trials]
    assert costs[0] == 0.0
    assert result.spending is not None
    assert costs[result.spending.recommended.n_trial_batches] == result.recommended.cost
    assert costs[1:] == [pytest.approx(number * (costs[1] or 0.0)) for number in (1, 2, 3)]  # nothing here is shared
    listed = [row for rows in found.by_trials for row in rows]
    good = [row for row in listed if row.reads_within <= 0.10]
    least = min(row.rms for row in listed) + plan.settings.target.immaterial_difference
    cheapest = min(good or [row for row in listed if row.rms <= least], key=lambda row: row.cost_in_all or 0.0)
    assert found.recommended is not None
    assert found.rows[found.recommended] == cheapest
    assert any(text.startswith("With as many early specimens") for text in found.sentences)


def test_numbers_of_trial_batches_that_few_batches_cannot_judge_are_named() -> None:
    plan = small_plan(n_batches=5, is_on_site=False)
    programme = replace(plan.settings.programme_asked, trial_batches=1, most_trial_batches=3)
    advice = recommend(replace(plan, settings=replace(plan.settings, programme=programme)), n_draws=5, workers=1)
    assert advice.early_breaks is not None
    assert advice.early_breaks.offered == (0, 1)
    assert any(
        text.startswith("3 trial batches and early breaks cannot be judged") for text in advice.early_breaks.sentences
    )


def test_what_pours_are_read_by_is_estimated_from_every_batch() -> None:
    found, hand = answer_of(5, True, 3), ByHand(answered(5, True, 3)[0])
    model = found.model_of(1)
    assert model is not None
    prior = estimate_growth_prior(hand.prior_of(hand.batches))
    assert (model.scale_sd, model.rate_sd, model.departure_sd) == pytest.approx(
        (prior.scale_sd, prior.rate_sd, prior.departure_sd), rel=1e-6
    )
    maturities = [cell[0] for cells in hand.standard.values() for cell in cells.values()]
    assert model.span_h == pytest.approx((min(maturities), max(maturities)))
    assert model.widening == max(row.widening for row in found.by_trials[1])
    assert (model.n_batches, model.reading, model.trials) == (5, found.by_trials[1][0].reading, ())
    assert model.n_freedom == pytest.approx(5 - 1 + 0.5 / 0.7**2)
    middle = [np.mean([hand.standard[name][age][0] for name in hand.batches]) for age in AGES_H]
    assert [knot.maturity_h for knot in model.knots] == pytest.approx(
        [np.exp(np.mean(np.log([hand.standard[name][age][0] for name in hand.batches]))) for age in AGES_H]
    )
    assert [knot.cv for knot in model.knots] == pytest.approx([hand.cv(age) for age in AGES_H])
    carried = prior_of(model).at(middle)[0]
    assert carried == pytest.approx(prior.at(middle)[0], rel=1e-9)


def test_trial_curve_rescaled_by_hand() -> None:
    """Every other batch as the trial batch, its curve shifted by the weighted mean of the log ratios."""
    plan, result = answered(5, True, 3)
    found, hand, choice = answer_of(5, True, 3), ByHand(plan), result.recommended
    curves = {}
    for name in hand.batches:
        cells = np.array([hand.standard[name][age][:2] for age in choice.schedule.ages_h])
        curves[name] = fit_curve(choice.curve, cells[:, 0], cells[:, 1], weighting=choice.weighting)

    for row in (found.by_trials[1][0], found.by_trials[1][2]):
        early_plan = PLANS[row.n_specimens][0]
        level = variance = 0.0
        for batch, check in [(b, c) for b in hand.batches for c in hand.checks[b]]:
            weight = 0.5 / sum(other.target_h == check.target_h for other in hand.checks[batch]) / 5
            ages = [a for a, n in zip(POURS.early_ages_h, early_plan, strict=True) if n and a < check.target_h]
            precision = np.array([1.0 / hand.cv(age) ** 2 for age in ages])
            share = precision / precision.sum() if ages else precision
            squares = []
            for trial in [name for name in hand.batches if name != batch]:
                ratio = [
                    np.log(hand.standard[batch][a][1] / curves[trial].predict([hand.standard[batch][a][0]])[0])
                    for a in ages
                ]
                log_read = np.log(curves[trial].predict([check.maturity_h])[0]) + float(share @ np.array(ratio))
                squares.append((np.exp(log_read) / check.strength_mpa - 1.0) ** 2)
            v_plan = sum(s**2 * hand.cv(a) ** 2 for s, a in zip(share, ages, strict=True))
            v_cell = sum(s**2 * hand.cv(a) ** 2 / 3 for s, a in zip(share, ages, strict=True))
            level += weight * (np.mean(squares) + v_plan - v_cell - hand.cv(check.target_h) ** 2 / check.n_specimens)
            variance += weight * v_plan
        assert row.rms_rescaled == pytest.approx(np.sqrt(max(level, variance)), rel=1e-9)


def test_money_of_the_early_breaks() -> None:
    rows = answer_of(5, True, 3).rows
    assert [row.cost_per_pour for row in rows] == [0.0, 55.0, 110.0]
    assert [row.cost_of_pours for row in rows] == [0.0, 2200.0, 4400.0]
    plan = small_plan(n_batches=3, is_on_site=True)
    stated = replace(plan, settings=replace(plan.settings, costs=replace(COSTS, pour_break=30.0)))
    advice = recommend(stated, n_draws=5, workers=1).early_breaks
    assert advice is not None
    assert [row.cost_of_pours for row in advice.rows] == [0.0, 1200.0, 2400.0]


def test_the_fewest_that_read_within_the_tolerance_are_advised() -> None:
    answer = answer_of(5, True, 3)
    assert answer.recommended is not None
    for tolerance, place in (
        (answer.rows[1].reads_within + 1e-6, 1),
        (max(r.reads_within for r in answer.rows) + 1e-6, 0),
    ):
        plan = small_plan(n_batches=5, is_on_site=True)
        wider = replace(plan.settings, target=replace(plan.settings.target, tolerance=tolerance))
        found = recommend(replace(plan, settings=wider), n_draws=5, workers=1).early_breaks
        assert found is not None
        assert (found.recommended, found.is_enough) == (place, True)
        assert "good enough for" in found.sentences[2]


def test_out_of_reach_the_fewest_near_the_best_are_advised_and_the_sentence_says_so() -> None:
    plan = small_plan(n_batches=5, is_on_site=True)
    strict = replace(plan.settings, target=replace(plan.settings.target, tolerance=0.02, immaterial=0.001))
    found = recommend(replace(plan, settings=strict), n_draws=5, workers=1).early_breaks
    assert found is not None
    assert found.recommended is not None
    assert not found.is_enough
    near = [place for place, row in enumerate(found.rows) if row.rms <= min(r.rms for r in found.rows) + 0.001]
    assert found.recommended == near[0]
    assert "No early breaks that the plan allows reach 2.0 %" in found.sentences[2]


def test_the_rival_is_told_first() -> None:
    answer = answer_of(5, True, 3)
    none = answer.rows[0]
    assert f"reads a later pour {100 * none.rms_records:.1f} % off" in answer.sentences[0]
    assert none.rms_rescaled is not None
    assert f"recommended schedule {100 * none.rms_rescaled:.1f} %" in answer.sentences[0]
    assert answer_of(3, True, 3).rows[0].rms_records_and_trial is None


def test_without_early_breaks_in_the_plan_nothing_is_said() -> None:
    plan = small_plan(n_batches=3, is_on_site=True)
    bare = replace(plan, settings=replace(plan.settings, pours=None))
    assert recommend(bare, n_draws=5, workers=1).early_breaks is None


def test_two_batches_and_several_mixes_cannot_judge() -> None:
    two = recommend(small_plan(n_batches=2, is_on_site=True), n_draws=5, workers=1).early_breaks
    assert two is not None
    assert two.rows == ()
    assert "2 batches can be checked and 3 are needed" in two.sentences[0]
    plan = small_plan(n_batches=4, is_on_site=True)
    breaks = tuple(replace(item, mix=f"mix {item.batch}") for item in plan.records.breaks)
    mixed = replace(plan, records=Records(breaks=breaks, curing_records=plan.records.curing_records))
    mixed = replace(mixed, settings=replace(mixed.settings, prior=replace(mixed.settings.prior, hold_out="mix")))
    advice = recommend(mixed, n_draws=5, workers=1).early_breaks
    assert advice is not None
    assert "several mixes" in advice.sentences[0]


def test_early_ages_that_nobody_broke_are_named() -> None:
    plan = small_plan(n_batches=3, is_on_site=True)
    pours = replace(POURS, early_ages_h=(4.0, 5.0))
    advice = recommend(replace(plan, settings=replace(plan.settings, pours=pours)), n_draws=5, workers=1).early_breaks
    assert advice is not None
    assert any("Early ages not judged: 5 h" in sentence for sentence in advice.sentences)
    alone = replace(plan.settings, pours=replace(POURS, early_ages_h=(5.0,)))
    with pytest.raises(InputError, match=r"None of 5 h can be judged.*4 h, 6 h, 8 h"):
        recommend(replace(plan, settings=alone), n_draws=5, workers=1)


def test_money_of_calibration_and_pours_stands_in_a_sentence() -> None:
    plan, found = answered(5, True, 3)
    answer = answer_of(5, True, 3)
    assert answer.recommended is not None
    row = answer.rows[answer.recommended]
    for number, calibration in ((0, 0.0), (1, found.recommended.cost)):
        assert all(one.cost_of_calibration == calibration for one in answer.by_trials[number])
    said = [text for text in answer.sentences if text.startswith("That costs")]
    if row.ages_h:
        each = 55 * row.n_specimens  # 18 + 12 + 25
        assert f"That costs {each} EUR a pour, {40 * each} EUR for 40 pours" in said[0]
        assert ("no trial batch need be cast" in said[0]) == (row.n_trial_batches == 0)
    trial = replace(row, n_trial_batches=2, cost_of_calibration=1249.0, ages_h=(4.0,), specimens=(1,))
    trials = ((replace(row, rms_rescaled=0.12),), (), (trial,))
    words = early_break_sentences(trials, trial, True, plan.settings, offered=(0, 2), left_out=(), anew=None)
    assert any("beside 1249 EUR for the calibration of 2 trial batches." in text for text in words)
    assert words[1].startswith("Reading from the records serves while cement")


def test_concrete_too_weak_to_be_broken_early_is_left_out() -> None:
    plan = small_plan(n_batches=6, is_on_site=False, n_broken=4)
    broken = {age: np.mean([i.strength_mpa for i in plan.records.breaks if i.age_h == age]) for age in (4.0, 6.0)}
    least = float(np.mean(list(broken.values())))  # truths at 6 h that are weaker judge nothing, some stay
    weak = replace(plan.settings, choices=replace(plan.settings.choices, least_strength_mpa=least, fewest_ages=3))
    advice = recommend(replace(plan, settings=weak), n_draws=5, workers=1).early_breaks
    assert advice is not None
    assert all(4.0 not in row.ages_h for row in advice.rows)
    assert any("Early ages not judged: 4 h" in sentence for sentence in advice.sentences)
