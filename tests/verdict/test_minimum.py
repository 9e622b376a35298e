"""What must be there: fewest, needs, bounds, constraints, rules with support, and the clause they carry."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sklearn.tree import DecisionTreeRegressor

from planner.pipeline import minimum
from planner.terms.maturity import MaturitySetting
from planner.terms.results.answers import MinimumAnswer, Standing, TargetMinimum
from planner.terms.schedule import Schedule
from planner.verdict.answers.minimum.clause import draft_clause, extrapolated_share, temperature_range
from planner.verdict.answers.minimum.learnt_rules import (
    DEPTH,
    LEAST_SHARE,
    Condition,
    condition_words,
    features,
    held_out_check,
    learnt_rules,
    obey,
)
from planner.verdict.answers.minimum.least_breaks import Asked, bracketing, need_of, target_minimum
from tests.verdict.small_table import small_plan, small_table


def asked(assurance: float = 0.9) -> Asked:
    table, offered = small_table()
    cost = 50.0 + 10.0 * table.choices.n_specimens
    late = np.asarray(table.choices.last_age_h <= 24.0)
    return Asked(table, offered, assurance, cost, (("home by evening", late),))


@cache
def least() -> TargetMinimum:
    return target_minimum(asked(), age_h=14.0)


@cache
def answered() -> MinimumAnswer:
    plan = small_plan()
    target = replace(plan.settings.target, assurance=0.8)  # so few ages do not keep nine in ten
    return minimum(replace(plan, settings=replace(plan.settings, target=target)), n_draws=40, workers=1)


def stand(rms: float, *, score: float, inside: bool) -> Standing:
    return Standing(
        schedule=Schedule((6.0, 24.0), (2, 2)), curve="hyperbolic",
        maturity=MaturitySetting("equivalent age", 5000.0, 20.0), rms=rms, score_rms=score,
        within_tolerance=0.95 if inside else 0.6, within_tolerance_lower_95=None, is_inside=inside,
        later_rms=None, later_within_tolerance=None, cost=None,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("present", "absent", "need"),
    [
        (stand(0.03, score=0.03, inside=True), stand(0.09, score=0.09, inside=False), "must be there"),
        (stand(0.03, score=0.03, inside=True), None, "must be there"),
        # outside by chance alone: the steadier loss says nothing
        (stand(0.03, score=0.03, inside=True), stand(0.09, score=0.03, inside=False), "may be there"),
        (stand(0.03, score=0.03, inside=True), stand(0.04, score=0.04, inside=True), "may be there"),
        (stand(0.03, score=0.04, inside=True), stand(0.03, score=0.03, inside=True), "does not help"),
        (None, stand(0.03, score=0.03, inside=True), "does not help"),
    ],
)
def test_needs_by_hand(present: Standing | None, absent: Standing | None, need: str) -> None:
    assert need_of(present, absent) == need


def test_the_fewest_keeps_the_error_inside_and_nothing_smaller_does() -> None:
    found, question = least(), asked()
    assert found.fewest is not None
    assert found.fewest.is_inside
    choices = question.table.choices
    setting = question.table.cells.settings.index(found.fewest.maturity)
    both_sides = bracketing(question.table, setting)
    fewer = both_sides & (choices.n_ages <= found.fewest.schedule.n_ages)
    fewer &= choices.n_specimens < found.fewest.schedule.n_specimens
    smaller = question.standing(fewer)
    assert smaller is None or not smaller.is_inside
    assert str(found.fewest.schedule.n_specimens) in found.sentence


def test_no_schedule_keeps_what_cannot_be_kept() -> None:
    found = target_minimum(asked(assurance=1.0), age_h=14.0)
    assert found.fewest is None
    assert "no schedule keeps" in found.sentence


def test_a_constraint_costs_what_the_two_answers_differ_by() -> None:
    found, question = least(), asked()
    named = {item.name: item for item in found.constraints}
    item = named["home by evening"]
    under = question.standing(np.asarray(question.table.choices.last_age_h <= 24.0))
    assert under is not None
    assert found.unrestricted is not None
    assert item.rms_more == pytest.approx(under.rms - found.unrestricted.rms)
    assert item.standing == under
    assert {"no break before 10 h", "nothing after 1 d", "nothing after 7 d"} <= set(named)


def test_multiples_are_of_the_targets_maturity() -> None:
    found, (table, _) = least(), small_table()
    by_age = {need.age_h: need.multiple for need in found.ages}
    cells = table.cells  # one maturity setting: the temperatures of these records do not tell constants apart
    assert found.maturity_h == pytest.approx(np.median(cells.checks.maturity_h[0]))
    for position in np.flatnonzero(np.isin(cells.ages_h, list(by_age))):
        maturity_h = np.median(cells.views.maturity_h[0, :, position])
        assert by_age[float(cells.ages_h[position])] == pytest.approx(maturity_h / found.maturity_h)
    assert {need.need for need in found.ages} <= {"must be there", "may be there", "does not help"}


def test_rules_have_the_support_they_say() -> None:
    table, _ = small_table()
    multiples = table.cells.ages_h / 14.0
    rules = learnt_rules(table, multiples, assurance=0.9)
    assert len(rules) == 2
    assert rules[0].rms < rules[1].rms
    for rule in rules:
        assert rule.n_scored == len(table.choices)
        assert 0 < rule.n_schedules < rule.n_scored
        assert 0 <= rule.n_held_out_better <= rule.n_held_out <= table.scoring.n_units
    # the leaves counted by the tree itself
    rms = np.sqrt(table.loss[-1].astype(np.float64))
    least_support = max(5, int(LEAST_SHARE * len(rms)))
    tree = DecisionTreeRegressor(max_depth=DEPTH, min_samples_leaf=least_support, random_state=0)
    facts = features(table, multiples)
    leaf = tree.fit(facts, np.log(rms)).apply(facts)
    by_leaf = {node: np.log(rms)[leaf == node].mean() for node in np.unique(leaf)}
    for rule, node in zip(rules, (min(by_leaf, key=by_leaf.get), max(by_leaf, key=by_leaf.get)), strict=True):
        assert rule.n_schedules == (leaf == node).sum() >= least_support
        assert rule.rms == pytest.approx(np.median(rms[leaf == node]))


def test_features_by_hand() -> None:
    table, _ = small_table()
    multiples = table.cells.ages_h / 14.0
    which = next(
        i for i in range(len(table.choices)) if table.choices.schedule(i) == Schedule((10.0, 18.0, 168.0), (2, 3, 2))
    )
    row = features(table, multiples)[which]
    expected = [np.log2(1.4), np.log2(18 / 14), 5, np.log2(10 / 14), np.log2(12), 7, 3]
    assert row == pytest.approx(expected)
    assert obey(row[None, :], (Condition(5, 6.5, np.inf), Condition(0, -np.inf, 0.5))).tolist() == [True]
    assert obey(row[None, :], (Condition(5, 7.5, np.inf),)).tolist() == [False]


def test_rules_are_checked_on_batches_that_did_not_teach_them() -> None:
    table, _ = small_table()
    facts = features(table, table.cells.ages_h / 14.0)
    scored = np.arange(len(table.choices))
    n_checked, n_right, kept, others = held_out_check(table, scored, facts, is_best=True)
    assert n_checked == table.scoring.n_units
    assert 0 <= n_right <= n_checked
    assert kept is not None
    assert others is not None
    # with the left-out losses turned upside down the same rule must look bad
    turned = replace(table, left_out=np.asarray(1.0 - table.left_out))
    assert held_out_check(turned, scored, facts, is_best=True)[1] == n_checked - n_right


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (Condition(0, -np.inf, 1.0), "a break at or before the target, no further off than 0.5 times"),
        (Condition(1, -np.inf, 1.0), "a break at or after the target, no further off than 2 times"),
        (Condition(1, 1.0, np.inf), "no break at or after the target nearer than 2 times"),
        (Condition(1, 55.0, np.inf), "no break at or after the target"),
        (Condition(4, 1.0, np.inf), "last break later than 2 times the target's maturity"),
        (Condition(3, -np.inf, -1.0), "first break at 0.5 times the target's maturity or earlier"),
        (Condition(5, 8.5, np.inf), "9 or more specimens in all"),
        (Condition(2, 2.5, 4.5), "3 to 4 specimens within half and twice the target's maturity"),
        (Condition(6, -np.inf, 3.5), "at most 3 ages"),
    ],
)
def test_conditions_in_words(condition: Condition, words: str) -> None:
    assert condition_words(condition).startswith(words)


def test_a_clause_says_the_numbers_of_the_answer() -> None:
    answer = answered()
    clause, fewest = answer.clause, answer.together.fewest
    assert fewest is not None
    assert clause.refused_because == ""
    assert clause.heading == "DRAFT FOR THE ENGINEER"
    assert tuple(age.age_h for age in clause.ages) == fewest.schedule.ages_h
    assert tuple(age.n_specimens for age in clause.ages) == fewest.schedule.specimens
    texts = dict(clause.paragraphs)
    assert f"At least {fewest.schedule.n_specimens} specimens" in texts["Breaks"]
    assert f"{100 * fewest.rms:.1f} % off" in texts["Accuracy shown"]
    assert f"{100 * fewest.within_tolerance:.0f} % of batches" in texts["Accuracy shown"]
    assert "prevail" in texts["Precedence"]
    assert "measured" in texts["Evidence"]
    assert {"Scope", "Age zero", "Strength level", "Temperature", "Site checks", "Calibrate anew"} <= set(texts)


def test_no_clause_from_published_growth_or_extrapolation() -> None:
    answer, plan = answered(), small_plan()
    table, _ = small_table()
    told, together = answer.recommendation, answer.together
    published = replace(told, evidence=replace(told.evidence, grade="published"))
    refused = draft_clause(published, together, table.cells, plan.settings)
    assert "published growth" in refused.refused_because
    assert refused.ages == ()
    assert together.fewest is not None
    late = replace(together.fewest, schedule=Schedule((72.0, 168.0, 672.0), (2, 2, 2)))
    assert extrapolated_share(table.cells, late) == 1.0
    refused = draft_clause(told, replace(together, fewest=late), table.cells, plan.settings)
    assert "extrapolation" in refused.refused_because
    refused = draft_clause(told, replace(together, fewest=None), table.cells, plan.settings)
    assert "no schedule" in refused.refused_because


def test_the_temperature_range_keeps_the_targets_between_the_breaks() -> None:
    answer = answered()
    table, _ = small_table()
    told, fewest = answer.recommendation, answer.together.fewest
    assert fewest is not None
    wide = replace(told, valid_for=replace(told.valid_for, concrete_temperature_c=(0.0, 60.0)))
    five = MaturitySetting("equivalent age", 5000.0, 20.0)
    standing = replace(fewest, schedule=Schedule((8.0, 14.0, 24.0), (2, 2, 2)), maturity=five)
    found = temperature_range(wide, standing, table.cells)
    assert found is not None
    # 14 h at T are 14 exp(-5000 (1/T - 1/293.15)) h at 20 C; they must lie between the first and last break
    first_h, last_h = (
        np.median(table.cells.views.maturity_h[0, :, np.flatnonzero(table.cells.ages_h == age)[0]])
        for age in (8.0, 24.0)
    )
    for temperature_c, is_kept in ((found[0], 1), (found[1], 1), (found[0] - 1.1, 0), (found[1] + 1.1, 0)):
        reached_h = 14.0 * np.exp(-5000.0 * (1.0 / (temperature_c + 273.15) - 1.0 / 293.15))
        assert (first_h <= reached_h <= last_h) == bool(is_kept)
    unknown = replace(told, valid_for=replace(told.valid_for, concrete_temperature_c=None))
    assert temperature_range(unknown, standing, table.cells) is None
