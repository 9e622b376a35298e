"""A bound beyond half the strength is not printed as a figure: no useful bound can be given."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from planner.report.text import words
from planner.terms.labels import at_least_label, at_most_label
from planner.terms.results.drawn_figures import Gain
from planner.verdict.validation.held_out import Verdict
from planner.verdict.wording.programmes.next_batch_words import more_words

NONE_USEFUL = "no useful bound can be given"


@pytest.mark.parametrize(
    ("bound", "text"),
    [(0.12, "at most 12.0 % at 95 %"), (0.50, "at most 50.0 % at 95 %"), (0.501, NONE_USEFUL), (1.222, NONE_USEFUL)],
)
def test_an_upper_bound_of_more_than_half_the_strength_is_none(bound: float, text: str) -> None:
    assert at_most_label(bound) == text
    assert words.upper_bound(bound) == (f"{100 * bound:.1f} %" if text != NONE_USEFUL else words.NO_BOUND_CELL)
    assert NONE_USEFUL in words.NO_BOUND_NOTE


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (None, ""),
        (0.35, " (95 % sure: at least 35 %)"),
        (0.01, " (95 % sure: at least 1 %)"),
        (0.009, f" ({NONE_USEFUL})"),
    ],
)
def test_a_share_of_at_least_nothing_is_no_bound(share: float | None, text: str) -> None:
    assert at_least_label(share) == text


@pytest.mark.parametrize(
    ("spread", "tail"),
    [
        # 6 batches: two-sided factor for 90 % inside at 95 % confidence 3.71 (Howe 1969; tabled k, memory)
        (0.05, "no more can be said than that 90 % lie within"),
        (0.40, NONE_USEFUL),
    ],
)
def test_the_claim_of_few_batches_says_a_useful_width_or_none(spread: float, tail: str) -> None:
    errors = spread * np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    judge = SimpleNamespace(target=SimpleNamespace(assurance=0.90, tolerance=0.10))
    claim = Verdict._claim(judge, SimpleNamespace(signed=errors, units=range(6)), None)  # type: ignore[arg-type]
    assert claim.startswith(" It cannot be said that 90 % of batches lie within 10 %: 6 batches could at best show")
    assert tail in claim
    assert ("at 95 % confidence" in claim) is (spread < 0.1)


@pytest.mark.parametrize(
    ("now", "after", "text"),
    [
        (0.20, 0.18, "from 20.0 % to 18.0 %"),
        (0.60, 0.45, "a bound could be given: at most 45.0 % at 95 %"),
        (1.30, 1.10, f"Even with one more batch like these {NONE_USEFUL}."),
    ],
)
def test_one_more_batch_is_valued_by_a_useful_bound(now: float, after: float, text: str) -> None:
    gain = Gain(ages_h=(6.0,), spread_now=None, spread_after=None, bound_now=now, bound_after=after)
    assert text in more_words((gain,), "measured")
