"""The rules in words carry the figures of the rules."""

from __future__ import annotations

from planner.issued_curve.rules.alarm_chances import AlarmChances
from planner.issued_curve.rules.customary_rule import customary_rule
from planner.issued_curve.rules.rule_words import (
    acceptance_words,
    alarm_words,
    customary_words,
    lasting_words,
    tonight_words,
)

CHANCES = AlarmChances(
    n_checks=(20, 40, 300),
    sound=(0.21, 0.26, 0.38),
    dropped=(0.71, 0.78, 0.87),
    mean_to_find_drop=7.92,
    mean_to_false_alarm=226.0,
)


def test_acceptance_names_limit_tolerance_and_chance() -> None:
    said = acceptance_words(tolerance=0.10, n_groups=2, z_limit=2.2365, own_rms=0.035, sound_refused_at_most=0.06)
    for figure in ("no more than 10 %", "none of the 2", "2.24 standard", "3.5 %", "at most 6 %", "10 % or more"):
        assert figure in said
    alone = acceptance_words(tolerance=0.10, n_groups=1, z_limit=1.96, own_rms=0.035, sound_refused_at_most=0.06)
    assert "it does not depart by more than 1.96" in alone


def test_tonight_names_the_low_limit_and_gives_no_permission() -> None:
    said = tonight_words(sd=0.10)
    assert "more than 16.4 % below the reading" in said  # 1.644854 deviations of 10 %
    assert "No objection is no permission: the responsible engineer releases." in said


def test_lasting_names_both_limits() -> None:
    said = lasting_words(sd=0.12)
    # 4 and .5 deviations of 12 %
    for figure in (
        "second low check running",
        "passes 48 %",
        "6.0 % are let off",
        "three checks or more",
        "never upward",
    ):
        assert figure in said


def test_alarm_chances_are_named_in_order() -> None:
    said = alarm_words(CHANCES, n_curves=1)
    assert (
        "A sound curve of one trial batch is withdrawn by chance within 20, 40 and 300 checks in 21 %, 26 % and 38 %"
        in (said)
    )
    assert "found after 8 checks on the mean" in said
    assert "71 %, 78 % and 87 %" in said
    assert "of three trial batches" in alarm_words(CHANCES, n_curves=3)
    assert "of the earlier batches" in alarm_words(CHANCES, n_curves=9, is_from_records=True)


def test_customary_rule_is_named_with_its_faults() -> None:
    said = customary_words(customary_rule(0.0906))
    for figure in ("within 10 %", "fails 27 %", "13.5 %", "1.8 %", "0.25 %", "passes 29 %", "15 % too high"):
        assert figure in said
