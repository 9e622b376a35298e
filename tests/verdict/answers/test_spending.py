"""Trial batches, money and limits in the recommendation; figures are worked out by hand in tests/oracle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.population import basis_of
from planner.resampling import pair_errors
from planner.resampling.errors.later_pours.trial_means import mean_squares, of_trial_batches
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Plan, ProgrammeSettings
from planner.terms.problems import NoScheduleError
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.wording.programmes.spending_words import pours_words, spending_words
from tests.verdict.small_table import small_plan


def with_trial_batches(fewest: int, most: int, *, specimens: int | None = None, **target: object) -> Plan:
    plan = small_plan()
    asked = plan.settings
    budget = asked.budget if specimens is None else replace(asked.budget, specimens=specimens)
    programme = replace(
        asked.programme or ProgrammeSettings(instrumented=0), trial_batches=fewest, most_trial_batches=most
    )
    changed = replace(asked, budget=budget, programme=programme, target=replace(asked.target, **target))
    return replace(plan, settings=changed)


def told(*numbers: int, **more: object) -> Recommendation:
    return recommend(with_trial_batches(*numbers, **more), n_draws=20, workers=1)


def test_two_trial_batches_are_read_with_their_mean_curve() -> None:
    answer = told(2, 2, specimens=40)
    assert answer.spending is not None
    assert answer.spending.recommended.n_trial_batches == 2
    assert answer.programme is not None
    assert answer.programme.n_trial_batches == 2
    later, own = answer.honest.next_batch, answer.honest.own_batch
    assert later is not None
    assert own is not None
    # every pair of trial batches enumerated, against the closed form of the same folds
    assert later.rms == pytest.approx(max(later.rms_by_trial_batches[1], own.nested_rms), rel=1e-9)
    assert "mean curve of 2 trial batches" in answer.honest.sentence


@pytest.mark.parametrize("number", [2, 3])
def test_levels_of_subsets_have_the_mean_of_the_closed_form(number: int) -> None:
    plan = small_plan()
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    pairs = pair_errors(search.cells, search.scoring, search.matrix.choices, 5, search.matrix.joints[0])
    assert pairs is not None
    several = of_trial_batches(pairs, search.scoring, number)
    closed = mean_squares(pairs, search.scoring, (number,))[0]
    assert float(several.weight @ several.level) == pytest.approx(closed, rel=1e-9)
    assert float(several.weight.sum()) == pytest.approx(1.0)
    assert float(np.abs(several.error).max()) < float(np.abs(pairs.error).max())


def test_the_budget_holds_for_all_trial_batches_together() -> None:
    answer = told(1, 3, specimens=20)
    money = answer.spending
    assert money is not None
    within = [item for item in money.programmes if item.is_within_limits]
    assert within
    assert all(item.n_specimens <= 20 for item in within)
    assert {item.n_trial_batches for item in money.programmes} == {1, 2, 3}
    assert money.recommended.n_specimens <= 20
    assert answer.recommended.schedule == money.recommended.schedule


def test_a_budget_for_too_few_trial_batches_names_the_least() -> None:
    plan = with_trial_batches(3, 3, specimens=10)
    limits = plan.settings.choices
    least = 3 * limits.fewest_ages * limits.specimens_per_age[0]
    assert least > 10
    with pytest.raises(NoScheduleError, match=f"need {least} specimens, but .* is 10 for the whole calibration"):
        recommend(plan, n_draws=5, workers=1)


def test_own_batch_takes_the_fewest_trial_batches() -> None:
    answer = told(1, 3, specimens=40, judged_on="own batch")
    assert answer.spending is not None
    assert answer.spending.judged_on == "own batch"
    assert answer.spending.recommended.n_trial_batches == 1


def test_a_wide_immaterial_difference_saves_specimens() -> None:
    """With half the tolerance immaterial more programmes tie, so the cheapest of them is no dearer."""
    narrow, wide = told(1, 1, immaterial=0.0), told(1, 1, immaterial=0.05)
    assert narrow.spending is not None
    assert wide.spending is not None
    assert wide.spending.n_tied > narrow.spending.n_tied
    assert wide.spending.recommended.n_specimens <= narrow.spending.recommended.n_specimens


def test_what_is_enough_is_the_cheapest_of_all() -> None:
    answer = told(1, 3, specimens=40, tolerance=0.60, assurance=0.80)
    money = answer.spending
    assert money is not None
    assert money.is_enough
    assert money.recommended.is_enough
    assert answer.sufficiency is not None
    assert answer.sufficiency.is_reached
    cheaper = [
        item
        for item in money.programmes
        if item.is_within_limits and item.n_specimens < money.recommended.n_specimens and item.is_enough
    ]
    assert not cheaper
    assert "this is enough" in money.sentences[0]


def test_pours_that_break_early_are_told_where_nothing_is_enough() -> None:
    """The figures are those of the row that is advised; without such a row, or where enough is reached, nothing."""
    money = told(1, 1, tolerance=0.02).spending
    assert money is not None
    assert not money.is_enough
    assert "early breaks of each pour ([pours]) correct it" in money.sentences[-1]
    row = EarlyBreakRow(
        ages_h=(4.0, 5.0), specimens=(2, 1), n_trial_batches=0, reading="records", rms=0.046, rms_upper_95=0.08,
        is_below_resolution=False, within_tolerance=0.94, over_predicted_beyond_tolerance=0.01, reads_within=0.09,
        safe_reading_factor=1.1, rms_by_target=(0.046,), rms_records=0.096, rms_records_and_trial=None,
        rms_rescaled=None, cost_per_pour=165.0,
    )  # fmt: skip
    early = EarlyBreaks(
        rows=(row,), recommended=0, is_enough=True, n_batches=4, n_plans=3, n_pours=None, currency="EUR", sentences=()
    )
    settings = with_trial_batches(1, 1, tolerance=0.02).settings
    assert spending_words(money, settings, early) == (*money.sentences, *pours_words(money, early))
    assert pours_words(money, early) == (
        "With 2 specimens at 4 h and 1 at 5 h of every pour broken early for 165 EUR a pour and read by the records, "
        "pours are read 4.6 % off, 94 % within the tolerance: good enough.",
    )
    (short,) = pours_words(money, replace(early, is_enough=False))
    assert short.endswith("94 % within the tolerance.")
    for untold in (None, replace(early, recommended=None), replace(early, rows=(replace(row, ages_h=()),))):
        assert pours_words(money, untold) == ()
    assert pours_words(replace(money, is_enough=True), early) == ()
