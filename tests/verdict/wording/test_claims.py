"""What the headline claims of few batches, each figure worked out by hand from a handful of invented errors."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from planner.terms.results.mix_errors import Common, MixErrors, Trait
from planner.terms.results.recommended.validation_figures import NextBatchVerdict
from planner.verdict.validation.held_out import Verdict
from planner.verdict.validation.next_batch import NextBatchErrors
from planner.verdict.wording.held_out_words import claim_words
from planner.verdict.wording.mix_words import share_words, tail_words

TARGET = SimpleNamespace(assurance=0.90, tolerance=0.10)
LATER = NextBatchErrors(
    error=np.array([0.12, 0.02, -0.16, -0.10]),
    level=np.array([0.0100, 0.0004, 0.0196, 0.0080]),
    read_on=np.array([0, 0, 1, 1]),
    pair=np.array([2, 2, 1, 1]),
    target=np.array([0, 1, 0, 1]),
    weight=np.array([0.4, 0.1, 0.3, 0.2]),
    n_batches=2,
    squares=np.array([0.01, 0.008, np.nan]),
)


@pytest.fixture
def verdict():
    scoring = SimpleNamespace(is_by_mix=False, tolerance=0.10)
    return Verdict(cells=None, scoring=scoring, rule=None, target=TARGET, prior=None)  # type: ignore[arg-type]


def nested(signed, numbers=(1,)):
    return SimpleNamespace(
        signed=np.array(signed),
        units=np.arange(len(signed)),
        picks=[SimpleNamespace(n_trial_batches=n) for n in numbers],
    )


def test_later_error_of_each_target_is_the_root_of_its_weighted_mean_square(verdict):
    found = verdict._next_by_target(LATER)
    assert found == pytest.approx(
        {0: ((0.4 * 0.0100 + 0.3 * 0.0196) / 0.7) ** 0.5, 1: ((0.00004 + 0.0016) / 0.3) ** 0.5}
    )


def test_a_mean_square_below_nought_is_an_error_of_none(verdict):
    assert verdict._next_by_target(replace(LATER, level=np.full(4, -0.001))) == {0: 0.0, 1: 0.0}
    assert verdict._next_by_target(None) == {}


def test_two_batches_are_told_what_five_more_would_bound(verdict):
    # Seven batches with the mean square of the two, over the 5 % quantile of chi-square with seven degrees.
    bound = (7 * (0.03**2 + 0.01**2) / 2 / stats.chi2.ppf(0.05, 7)) ** 0.5
    text = verdict._claim(nested([0.03, -0.01]), None)
    assert text == f" 2 batches cannot carry a bound; with 5 more like these it would be about {100 * bound:.1f} %."
    assert 100 * bound == pytest.approx(4.0, abs=0.05)


def test_the_claim_is_of_later_pours_where_there_are_any(verdict):
    four = replace(
        LATER, read_on=np.arange(4), pair=np.arange(4), n_batches=4, weight=np.full(4, 0.25), error=LATER.error / 2
    )
    own = nested([0.001, -0.001, 0.001, -0.001])
    assert verdict._claim(own, None) == " With 95 % confidence, 90 % of batches lie within 10 %."
    # |mean| + k sd of the readings, k two-sided for 90 % at 95 % with four batches (Howe's table, memory).
    signed = four.error
    within = abs(signed.mean()) + 5.369 * np.sqrt(np.mean((signed - signed.mean()) ** 2))
    text = verdict._claim(own, four)
    assert "It cannot be said that 90 % of batches lie within 10 %: 4 batches could at best show 47 %" in text
    assert float(re.search(r"90 % lie within ([\d.]+) %", text)[1]) == pytest.approx(100 * within, abs=0.1)  # type: ignore[index]


def test_the_claim_counts_every_pour_by_its_worst_target(verdict):
    """Four pours, each read at two targets, at the second with next to no error: the first alone says the same."""
    first = np.array([0.06, 0.01, -0.08, -0.05])
    both = replace(
        LATER, error=np.c_[first, first / 100].ravel(), level=np.zeros(8), read_on=np.repeat(np.arange(4), 2),
        pair=np.repeat(np.arange(4), 2), target=np.tile([0, 1], 4), weight=np.full(8, 0.125), n_batches=4,
    )  # fmt: skip
    alone = replace(
        both, **{name: getattr(both, name)[::2] for name in ("error", "level", "read_on", "pair", "target")}
    )
    own = nested([0.001, -0.001, 0.001, -0.001])
    assert verdict._claim(own, both) == verdict._claim(own, replace(alone, weight=np.full(4, 0.25)))


def test_the_sentence_ends_with_the_claim_of_later_pours(verdict):
    own = SimpleNamespace(nested_rms=0.01, rms_upper_95=None, is_below_resolution=False)
    four = replace(LATER, read_on=np.arange(4), pair=np.arange(4), n_batches=4, weight=np.full(4, 0.25))
    good = nested([0.001, -0.001, 0.001, -0.001])
    assert "It cannot be said that 90 %" in verdict._sentence(own, None, "why", good, four, None)
    assert "With 95 % confidence, 90 %" in verdict._sentence(own, None, "why", good, None, None)


def test_the_claim_asks_for_the_wanted_share_and_not_another(verdict):
    half = Verdict(
        cells=None,
        scoring=verdict.scoring,
        rule=None,
        target=SimpleNamespace(assurance=0.50, tolerance=0.10),
        prior=None,
    )  # type: ignore[arg-type]
    own = nested(0.04 * np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0]))
    # Six batches, sd .0438: half of all within k sd, k 1.47 to 1.50 (two-sided 50/95, by integration), so within 6.5 %.
    assert half._claim(own, None) == " With 95 % confidence, 50 % of batches lie within 10 %."
    assert "cannot be said" in verdict._claim(own, None)


@pytest.mark.parametrize(
    ("numbers", "read"),
    [
        ((1, 1, 2), "one trial batch's curve"),
        ((3, 3, 1), "the mean curve of 3 trial batches"),
        ((2, 3, 2), "curve of 2"),
    ],
)
def test_the_sentence_counts_the_trial_batches_that_most_folds_take(verdict, numbers, read):
    later = NextBatchVerdict(
        rms=0.11, rms_upper_95=None, within_tolerance=0.6, within_tolerance_lower_95=None, over_predicted_any=0.5,
        over_predicted_beyond_tolerance=0.2, between_batch_cv=0.05, rms_by_trial_batches=(0.11,),
        basis="pairs of batches",
    )  # fmt: skip
    own = SimpleNamespace(nested_rms=0.04, rms_upper_95=None, is_below_resolution=False)
    text = verdict._sentence(own, later, "", nested([0.03, -0.01, 0.02], numbers), None, None)
    assert read in text
    assert "about 11.0 % off" in text
    assert "20 % of such readings are too high by more than 10 %" in text
    assert "On the own batch about 4.0 %." in text
    assert text.index("later pour") < text.index("own batch") < text.index("batches", text.index("own batch") + 9)


def invented_mixes(**changes) -> MixErrors:
    common = Common(trait=Trait.STRENGTH, is_low=True, worst=(4.0, 9.0), others=(20.0, 60.0))
    found = MixErrors(
        basis="own batch", n_mixes=20, quantile_abs=0.08, quantile_upper_95=0.15, n_more_for_quantile=0,
        n_more_for_safe_reading=2, worst_fifth_share=0.9, is_heavy_tailed=True, worst=(), in_common=(common,),
    )  # fmt: skip
    return replace(found, **changes)


@pytest.mark.parametrize("is_heavy", [True, False])
def test_the_quantile_leads_where_tails_are_heavy_and_only_there(verdict, monkeypatch, is_heavy):
    own = SimpleNamespace(nested_rms=0.04, rms_upper_95=None, is_below_resolution=False)
    monkeypatch.setattr(Verdict, "_claim_of_mixes", lambda *_: "")
    text = verdict._sentence(own, None, "why", nested([0.1] * 20), None, invented_mixes(is_heavy_tailed=is_heavy))
    quantile, rms = text.index("8 in 10 of 20 mixes"), text.index("On the own batch")
    assert (quantile < rms) is is_heavy
    assert ("Tails are heavy: the 4 worst mixes make 90 % of the squared error" in text) is is_heavy


def test_the_worst_mixes_are_placed_on_the_side_they_are_on():
    worst = (SimpleNamespace(mix="M7", error=-0.31),)
    low = tail_words(invented_mixes(worst=worst))
    assert "M7 −31.0 %" in low.replace("-31", "−31")
    assert "all in the lowest third by" in low
    assert "4.0 to 9.0 MPa, the others 20.0 to 60.0 MPa" in low
    high = Common(trait=Trait.STRENGTH, is_low=False, worst=(70.0, 90.0), others=(20.0, 60.0))
    assert "all in the highest third by" in tail_words(invented_mixes(worst=worst, in_common=(high,)))


def test_mixes_that_are_too_few_are_told_how_many_more():
    text = share_words(None, assurance=0.90, tolerance=0.10, n_mixes=20, fewest=29)
    assert (
        text == " It cannot be said that 90 % of mixes lie within 10 %: that takes 29 mixes or more, 9 more than these."
    )
    within = share_words(0.09, assurance=0.90, tolerance=0.10, n_mixes=30, fewest=29)
    assert within == " With 95 % confidence, 90 % of mixes lie within 10 %."
    assert "within 12.0 %" in share_words(0.12, assurance=0.90, tolerance=0.10, n_mixes=30, fewest=29)


def test_enough_batches_that_scatter_too_much_show_less():
    # 29 batches are the fewest for 90 % at 95 % confidence: ln .05 / ln .9 = 28.4.
    assert "29 batches show less" in claim_words(0.2, assurance=0.90, tolerance=0.10, n_batches=29)
    assert "28 batches could at best show 90 %" in claim_words(0.2, assurance=0.90, tolerance=0.10, n_batches=28)
