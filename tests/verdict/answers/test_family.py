"""One rule for three mixes made by hand: which breaks, at what loss, and what each mix left out changes."""

from __future__ import annotations

import numpy as np
import pytest

from planner.terms.results.minimum.family_figures import Envelope
from planner.terms.schedule import Schedule
from planner.verdict.answers.family.envelope import envelope_of
from planner.verdict.answers.family.member import Member
from planner.verdict.wording.family_words import left_out_words, not_when_words, rule_words

FEW, MORE, OTHER = (2, 2, 0), (2, 0, 3), (3, 3, 0)  # specimens at 6, 12, 24 h


def member(name: str, *, keeps: tuple[bool, ...], rms: tuple[float, ...], final_set_h: float = 2.0) -> Member:
    return Member(
        plan=f"{name}.toml", mix=name, currency="EUR", final_set_h=final_set_h, temperature_c=(10.0, 30.0),
        ages_h=np.array([6.0, 12.0, 24.0]), counts=np.array([FEW, MORE, OTHER], dtype=np.uint8),
        numbers=np.ones(3, dtype=np.int64), is_keeping=np.array(keeps), rms=np.array(rms),
        cost=np.array([400.0, 500.0, 600.0]), shares=np.array([0.5, 1.0, 2.0]),
    )  # fmt: skip


def three() -> Envelope:
    """C alone cannot do with the fewest; all three keep the target with 5 specimens."""
    return envelope_of(
        (
            member("A", keeps=(True, True, True), rms=(0.05, 0.06, 0.05)),
            member("B", keeps=(True, True, False), rms=(0.06, 0.08, 0.2), final_set_h=4.0),
            member("C", keeps=(False, True, True), rms=(0.2, 0.04, 0.03)),
        ),
        target="12 h",
        age_h=12.0,
    )


def test_the_rule_and_its_price_by_hand() -> None:
    advice = three()
    assert advice.rule is not None
    assert (advice.rule.schedule, advice.rule.n_trial_batches) == (Schedule((6.0, 24.0), (2, 3)), 1)
    assert advice.n_common == 1
    assert [item.specimens_more for item in advice.members] == [1, 1, 0]
    assert [item.cost_more for item in advice.members] == [100.0, 100.0, 0.0]
    assert advice.worst_mix == "B"
    assert advice.worst_loss == pytest.approx(0.02)
    assert [(item.age_h, item.least, item.most) for item in advice.shares] == [(6.0, 0.5, 0.5), (24.0, 2.0, 2.0)]
    assert advice.latest_set_h == 4.0


def test_each_mix_left_out_by_hand() -> None:
    """Without C the fewest are 4, which C cannot do with; without B 5 again; without A 5 again."""
    advice = three().left_out
    assert [item.rule.n_specimens for item in advice if item.rule is not None] == [5, 5, 4]
    assert [item.is_kept for item in advice] == [True, True, False]
    assert [item.rms for item in advice] == pytest.approx([0.06, 0.08, 0.2])


def test_few_mixes_carry_no_percentage() -> None:
    words = left_out_words(three())
    assert "held for 2 of 3 mixes it had not seen" in words
    assert "3 mixes carry no percentage: 90 % of mixes could be claimed from 29 mixes on" in words


def test_a_mix_that_keeps_nothing_is_named_and_is_not_in_the_rule() -> None:
    found = envelope_of(
        (
            member("A", keeps=(True, True, True), rms=(0.05, 0.06, 0.05)),
            member("B", keeps=(False, False, False), rms=(0.3, 0.3, 0.3), final_set_h=9.0),
        ),
        target="12 h",
        age_h=12.0,
    )
    assert found.unkept == ("B",)
    assert found.left_out == ()
    assert found.latest_set_h == 2.0
    assert "keep the target for 1 of 2 mixes; NOT for B" in rule_words(found)
    assert not_when_words(found) == (
        "not when: setting later than 2 h; mean concrete temperature below 10 C or above 30 C; a mix like B"
    )


def test_without_breaks_in_common_there_is_no_rule() -> None:
    found = envelope_of(
        (
            member("A", keeps=(True, False, False), rms=(0.05, 0.2, 0.2)),
            member("B", keeps=(False, True, False), rms=(0.2, 0.05, 0.2)),
        ),
        target="12 h",
        age_h=12.0,
    )
    assert found.rule is None
    assert found.n_common == 0
    assert "no breaks in common" in rule_words(found)
