"""What would help most on the first screen: the step of most error off for its price, by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Costs, Settings
from planner.terms.promise import Promise
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.programme_figures import LaterPourFigures, Programme, SpendingFigures
from planner.terms.schedule import Schedule
from planner.verdict.wording.programmes.helping_words import helps_words, limit_words
from tests.issued_curve.trial_files import runway_plan

SETTING = MaturitySetting("equivalent age", 5000.0, 20.0)


def programme(
    n_trial_batches: int, specimens: int, rms: float, share: float, cost: float | None, *, within: bool = True
) -> Programme:
    """Three ages with so many specimens each; later pours read so far off, so many of them inside."""
    later = LaterPourFigures(
        rms=rms, rms_se=None, rms_upper_95=None, within_tolerance=Promise(share), within_tolerance_lower_95=None,
        over_predicted_beyond_tolerance=Promise(0.1), worst_batch_rms=rms, safe_reading_factor=None,
        is_extrapolated=False,
    )  # fmt: skip
    return Programme(
        n_trial_batches=n_trial_batches, schedule=Schedule((4.0, 8.0, 24.0), (specimens,) * 3), curve="logarithmic",
        weighting="absolute", maturity=SETTING, own_batch_rms=0.03, own_batch_within_tolerance=Promise(1.0),
        next_batch=later, cost=cost, n_visits=2, is_tied=True, is_enough=share >= 0.9, is_within_limits=within,
    )  # fmt: skip


TAKEN = programme(1, 2, 0.120, 0.60, 500.0)
DOUBLED = programme(1, 4, 0.116, 0.62, 600.0)  # 0.4 % off for 100: 0.004 % each
TWO_BATCHES = programme(2, 2, 0.100, 0.70, 1500.0, within=False)  # 2 % off for 1000: 0.002 % each


def figures(*others: Programme, **changed: Any) -> SpendingFigures:
    made = SpendingFigures(
        judged_on="later pour", judged_because="", immaterial=0.0025, is_enough=False, recommended=TAKEN, best=TAKEN,
        lowest=None, programmes=(TAKEN, *others), n_tied=1, score=1.0, score_from_other_schedules=0.0,
    )  # fmt: skip
    return replace(made, **changed)


def settings(**changed: Any) -> Settings:
    made = replace(runway_plan().settings, pours=None, costs=Costs(currency="EUR"))
    return replace(made, **changed)


def test_the_step_of_most_error_for_its_price_is_told() -> None:
    first, most = helps_words(figures(DOUBLED, TWO_BATCHES), settings())
    assert first == "12 specimens: 11.6 % off, 100 EUR more."
    assert most == "No programme listed keeps over 70 % inside: see [pours]."
    dear = replace(DOUBLED, cost=800.0)  # 0.4 % for 300
    first, _ = helps_words(figures(dear, TWO_BATCHES), settings())
    assert first == "One more trial batch: 10.0 % off, 1000 EUR more (the plan allows 1)."


def test_batches_that_show_how_pours_differ_come_before_any_specimen() -> None:
    alone = figures(DOUBLED, TWO_BATCHES, judged_on="own batch", judged_because="The records hold one batch.")
    (told,) = helps_words(alone, settings())
    assert told.startswith("More batches of one mix, broken at the targets")
    by_choice = figures(DOUBLED, TWO_BATCHES, judged_on="own batch")
    assert not any("More batches of one mix" in text for text in helps_words(by_choice, settings()))


def test_without_prices_specimens_are_the_price() -> None:
    free = [replace(item, cost=None) for item in (TAKEN, DOUBLED, TWO_BATCHES)]
    found = figures(*free[1:], recommended=free[0], best=free[0])
    first, _ = helps_words(found, settings(costs=None))
    assert first.startswith("One more trial batch: 10.0 % off (")  # 6 specimens for 2 % beside 6 for 0.4 %


def test_what_cannot_be_told_apart_to_a_digit_gets_two() -> None:
    first, _ = helps_words(figures(programme(1, 4, 0.1199, 0.6, 600.0)), settings())
    assert first.startswith("12 specimens: 11.99 % off")


def test_nothing_is_said_of_what_helps_not() -> None:
    worse = programme(1, 4, 0.125, 0.55, 600.0)
    assert helps_words(figures(worse), settings()) == ("No programme listed keeps over 60 % inside: see [pours].",)
    assert helps_words(figures(worse, is_enough=True), settings()) == ()


def test_other_ends_of_the_sentence() -> None:
    (own,) = helps_words(figures(judged_on="own batch"), settings())
    assert own == "No programme listed keeps over 100 % inside: more batches or ages help."
    (with_pours,) = helps_words(figures(), replace(settings(), pours=runway_plan().settings.pours))
    assert with_pours.endswith("inside: site checks show the rest.")


@pytest.mark.parametrize(
    ("programme", "said"),
    [
        (TWO_BATCHES, "the plan allows 1"),
        (programme(1, 9, 0.1, 0.7, 700.0, within=False), "the budget is 24 specimens"),
        (programme(1, 3, 0.1, 0.7, 700.0, within=False), "it costs more than the budget"),
        (TAKEN, ""),
    ],
)
def test_the_limit_that_is_broken_is_named(programme: Programme, said: str) -> None:
    assert limit_words(programme, settings()) == said


def early(*, is_enough: bool) -> EarlyBreaks:
    row = EarlyBreakRow(
        ages_h=(4.0,), specimens=(2,), reading="records", rms=0.046, rms_upper_95=0.08, is_below_resolution=False,
        within_tolerance=0.94, over_predicted_beyond_tolerance=0.01, reads_within=0.09, safe_reading_factor=1.1,
        rms_by_target=(0.046,), rms_records=0.096, rms_records_and_trial=None, rms_rescaled=None, cost_per_pour=110.0,
        n_trial_batches=0,
    )  # fmt: skip
    return EarlyBreaks(
        rows=(row,), recommended=0, is_enough=is_enough, n_batches=9, n_plans=3, n_pours=40, currency="EUR",
        sentences=(),
    )  # fmt: skip


def test_early_breaks_come_first_where_they_alone_are_enough() -> None:
    found = figures(DOUBLED, TWO_BATCHES)
    assert helps_words(found, settings(), early(is_enough=True)) == (
        "Early breaks of every pour (2 specimens at 4 h, 110 EUR a pour): 4.6 % off, 94 % within 10.0 %, good enough.",
    )
    wide = early(is_enough=False)
    wide = replace(wide, rows=(replace(wide.rows[0], reads_within=0.104),))
    (short,) = helps_words(found, settings(), wide)
    assert short.endswith("4.6 % off, 94 % within 10.0 %, not yet good enough: 90 % can be counted on within 10.4 %.")
    few = early(is_enough=False)
    most = max(item.next_batch.within_tolerance for item in found.programmes if item.next_batch is not None)
    for no_better in (
        replace(few, rows=(replace(few.rows[0], within_tolerance=most),)),
        replace(few, rows=(replace(few.rows[0], ages_h=(), specimens=()),)),
    ):
        assert helps_words(found, settings(), no_better)[0].startswith("12 specimens")
    assert "arly breaks of every" not in " ".join(
        helps_words(replace(found, is_enough=True), settings(), early(is_enough=True))
    )
