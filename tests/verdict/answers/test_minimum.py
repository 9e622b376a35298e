"""What must be there by fixed programmes: needs, properties, a standard's counts, and what a clause may demand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from planner.pipeline import judged_minimum, minimum, price
from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Plan, ProgrammeSettings
from planner.terms.problems import InputError
from planner.terms.results.minimum.minimum_figures import MinimumAnswer
from planner.terms.schedule import Schedule
from planner.verdict.answers.minimum.allowed_programmes import AllowedProgrammes, allowed_programmes
from planner.verdict.answers.minimum.clause import _degrees_inside, extrapolated_share, temperature_range
from planner.verdict.answers.minimum.least_breaks import need_of
from planner.verdict.answers.minimum.property_rules import property_rules
from planner.verdict.answers.minimum.spans import ends_of, spans_of
from planner.verdict.answers.minimum.standard_counts import at_least, counts_of
from planner.verdict.selection.search import Search
from tests.laws.invented import plan_of, programme, settings
from tests.verdict.small_table import small_plan

WORK = Work.of(20, 1, 1, None)


def tried(*, tolerance: float = 0.2, specimens: int = 12, **limits: object) -> Plan:
    """Four batches about one hyperbola, the target at 12 h, judged on later pours."""
    asked = settings(specimens=specimens, judged_on="later pour")
    asked = replace(asked, target=replace(asked.target, tolerance=tolerance))
    return plan_of(programme(n_batches=4, seed=3), replace(asked, choices=replace(asked.choices, **limits)))


@cache
def kept() -> tuple[MinimumAnswer, Search]:
    answer, searches = judged_minimum(tried(tolerance=0.30), WORK, told_of=lambda search, _advice: search)
    return answer, searches[0]


@cache
def allowed() -> AllowedProgrammes:
    found = allowed_programmes(kept()[1])
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("is_demanded", "n_keeping", "rms", "need"),
    [
        (True, (5, 0), (0.03, None), "demanded"),
        (False, (5, 0), (0.03, 0.09), "must be there"),
        (False, (5, 0), (0.03, None), "may be there"),  # nothing without it is allowed: the plan demands it otherwise
        (False, (5, 1), (0.03, 0.03), "may be there"),
        (False, (0, 0), (0.03, 0.03), "may be there"),
        (False, (5, 5), (0.0330, 0.03), "does not help"),
        (False, (5, 5), (0.0314, 0.03), "may be there"),
        (False, (0, 5), (None, 0.03), "does not help"),
    ],
)
def test_needs_by_hand(
    is_demanded: bool, n_keeping: tuple[int, int], rms: tuple[float | None, float | None], need: str
) -> None:
    assert need_of(is_demanded=is_demanded, n_keeping=n_keeping, rms=rms) == need


def test_an_age_the_plan_demands_is_demanded_and_never_must() -> None:
    answer = minimum(tried(required_ages_h=(24.0,)), n_draws=20, workers=1).together
    by_age = {item.age_h: item for item in answer.ages}
    assert by_age[24.0].need == "demanded"
    assert by_age[24.0].rms_without is None
    assert "must be there" not in {item.need for item in answer.ages if item.n_keeping_without}


def test_the_fewest_are_those_of_recommend_and_of_price() -> None:
    plan = tried(tolerance=0.30)
    answer, priced = kept()[0], price(plan, n_draws=20, workers=1)
    fewest = answer.together.fewest
    assert fewest is not None
    for found in (answer.recommendation.sufficiency, priced.recommendation.sufficiency):
        assert found is not None
        assert (found.n_specimens, found.schedule) == (fewest.n_specimens, fewest.schedule)
        assert found.within_tolerance == pytest.approx(fewest.next_batch.within_tolerance if fewest.next_batch else 0)


def test_every_least_keeps_the_target_and_nothing_beyond_it_does() -> None:
    answer = kept()[0].together
    table = allowed()
    first, last = ends_of(table.choices)
    ages_h, keeps = table.choices.ages_h, table.is_keeping.any(axis=1)
    assert answer.n_keeping == int(table.is_keeping.sum()) > 0
    for item in answer.leasts:
        assert item.programme.is_enough
    by_name = {item.of: item.programme.schedule for item in answer.leasts}
    assert by_name["breaks"].n_specimens == table.choices.n_specimens[keeps].min()
    assert by_name["ages"].n_ages == table.choices.n_ages[keeps].min()
    assert by_name["latest first break"].ages_h[0] == ages_h[first[keeps]].max()
    assert by_name["earliest last break"].last_age_h == ages_h[last[keeps]].min()


def test_none_is_told_as_none_with_the_own_batch_beside() -> None:
    answer = minimum(tried(tolerance=0.03), n_draws=20, workers=1)
    together = answer.together
    assert together.leasts == ()
    assert together.fewest is None
    assert together.nearest is not None
    assert together.nearest == answer.recommendation.spending.recommended  # type: ignore[union-attr]
    assert "no allowed programme keeps 90 % of later pours within 3 %" in together.sentence
    assert "must be there" not in {item.need for item in together.ages}
    assert all(item.fewest_specimens is None for item in together.constraints)
    assert answer.clause.error is not None
    assert not answer.clause.error.is_later_kept


@pytest.mark.parametrize("seed", range(6))
def test_a_narrower_plan_never_keeps_what_the_wider_could_not(seed: int) -> None:
    """Random tolerances, seeds here; every least is no less under a limit that is stricter."""
    rng = np.random.default_rng((22, seed))
    tolerance = float(rng.uniform(0.2, 0.4))
    wide = tried(tolerance=tolerance)
    ways = ({"most_ages": 3}, {"fewest_ages": 4}, {"required_ages_h": (72.0,)}, {"least_strength_mpa": 9.0})
    narrow = tried(tolerance=tolerance, **ways[int(rng.integers(len(ways)))])  # type: ignore[arg-type]
    found = [minimum(plan, n_draws=20, workers=1).together for plan in (wide, narrow)]
    n = [np.inf if item.fewest is None else item.fewest.n_specimens for item in found]
    assert n[0] <= n[1]
    lowest = [min(age.rms_with for age in item.ages if age.rms_with is not None) for item in found]
    assert lowest[0] <= lowest[1] + 1e-9


def test_more_trial_batches_count_all_their_specimens() -> None:
    plan = tried(tolerance=0.30, specimens=12)
    several = ProgrammeSettings(instrumented=0, trial_batches=2, most_trial_batches=2)
    answer = minimum(replace(plan, settings=replace(plan.settings, programme=several)), n_draws=20, workers=1).together
    assert answer.nearest is not None
    assert answer.nearest.n_trial_batches == 2
    for item in answer.leasts:
        assert item.programme.n_specimens == 2 * item.programme.schedule.n_specimens <= 12


def test_property_rules_hold_for_all_that_keep_the_target() -> None:
    table = allowed()
    spans = spans_of(table.rule.cells, 0)
    keeps, possible = table.is_keeping.any(axis=1), table.is_allowed.any(axis=1)
    first, last = ends_of(table.choices)
    rules = property_rules(table, spans)
    assert len(rules) <= 2
    for rule in rules:
        assert rule.n_keeping == keeps.sum() <= rule.n_having < rule.n_allowed == possible.sum()
        assert 0 <= rule.n_held_out_right <= rule.n_held_out <= table.rule.cells.n_units
        ages = table.choices.ages_h
        if rule.of == "first break":
            assert rule.age_h == ages[first[keeps]].max()
            assert rule.n_having == (ages[first] <= rule.age_h)[possible].sum()
            assert rule.multiple == pytest.approx(spans.at_age_h[ages == rule.age_h][0] / spans.target_h[0])
        if rule.of == "last break":
            assert rule.age_h == ages[last[keeps]].min()
            assert rule.n_having == (ages[last] >= rule.age_h)[possible].sum()
            assert rule.multiple == pytest.approx(spans.at_age_h[ages == rule.age_h][0] / spans.target_h[1])
        if rule.of == "nearest break":
            off = np.abs(np.log2(spans.at_age_h / spans.target_h[0]))
            nearest = np.where(table.choices.has_age(), off, np.inf).min(axis=1)
            assert rule.multiple == pytest.approx(2 ** nearest[keeps].max())
            assert rule.n_having == (nearest <= nearest[keeps].max() + 1e-9)[possible].sum()


def test_some_plan_has_a_property_rule() -> None:
    """So that the test above is not empty: at some tolerance a property binds."""
    found = []
    for tolerance in (0.28, 0.30, 0.32):
        search = search_of(plan := tried(tolerance=tolerance), basis_of(plan), WORK)
        table = allowed_programmes(search)
        assert table is not None
        found += property_rules(table, spans_of(table.rule.cells, 0))
    assert found


def test_a_standards_counts_are_kept_by_the_least_programme_that_has_them() -> None:
    plan = tried(tolerance=0.30, specimens=16, most_ages=5, specimens_per_age=(2, 4))
    search = search_of(plan, basis_of(plan), WORK)
    table = allowed_programmes(search)
    assert table is not None
    found = at_least(table, "astm c 1074").programme
    assert found is not None
    choices = table.choices
    has = (choices.n_ages >= 5) & (choices.n_specimens >= 15)
    assert found.schedule.n_ages >= 5
    spans_and_keeps = has & table.is_spanning & table.is_keeping.any(axis=1)
    assert found.n_specimens == (choices.n_specimens[spans_and_keeps].min() if spans_and_keeps.any() else 15)
    answer = minimum(plan, standard="ASTM C1074", n_draws=20, workers=1)
    assert answer.together.at_least is not None
    assert answer.together.at_least.programme == found
    assert answer.clause.standard is not None
    assert answer.clause.standard.is_followed
    assert tuple(age.n_specimens for age in answer.clause.ages) == found.schedule.specimens


def test_where_the_plan_allows_no_such_counts_that_is_told() -> None:
    answer = minimum(tried(tolerance=0.30), standard="ASTM C1074", n_draws=20, workers=1)
    assert answer.together.at_least is not None
    assert answer.together.at_least.programme is None
    assert answer.clause.standard is not None
    assert answer.clause.standard.ages == ()
    assert not answer.clause.standard.is_followed


def test_an_unknown_standard_is_refused_before_anything_is_computed() -> None:
    with pytest.raises(InputError, match='The counts of "EN 1" are not known'):
        counts_of("EN 1")
    with pytest.raises(InputError, match="not known"):
        minimum(tried(), standard="EN 1")


def test_the_clause_demands_the_fewest_that_span_the_targets() -> None:
    answer, table = kept()[0], allowed()
    clause = answer.clause
    assert clause.kind == "draft"
    schedule = Schedule(tuple(age.age_h for age in clause.ages), tuple(age.n_specimens for age in clause.ages))
    choices = table.choices
    at = next(i for i in range(len(choices)) if choices.schedule(i) == schedule)
    good = table.is_spanning & table.is_keeping.any(axis=1)
    assert good[at]
    assert schedule.n_specimens == choices.n_specimens[good].min()
    assert clause.error is not None
    assert clause.error.is_kept
    assert clause.error.later_rms == pytest.approx(table.fixed.rms[at, 0])
    assert clause.recalibrate_when == answer.recommendation.valid_for.recalibrate_when
    checks = answer.recommendation.checks
    assert checks is not None
    assert (clause.checks.acceptance, clause.checks.check_sd) == (checks.acceptance, checks.scatter)


def test_one_batch_makes_an_interim_clause_without_figures() -> None:
    plan = plan_of(programme(n_batches=1), settings())
    answer = minimum(plan, n_draws=20, workers=1)
    assert answer.clause.kind == "interim"
    assert answer.clause.error is None
    assert answer.together.judged_on is None
    assert "no least can be told" in answer.together.sentence


def test_no_clause_from_extrapolation() -> None:
    """Every break offered comes after the target: nothing spans it."""
    asked = settings(ages_h=(24.0, 72.0, 168.0, 672.0), judged_on="later pour")
    asked = replace(asked, target=replace(asked.target, tolerance=0.25))
    answer = minimum(plan_of(programme(n_batches=4, seed=3), asked), n_draws=20, workers=1)
    assert answer.clause.kind == "refused"
    assert "extrapolation" in answer.clause.refused_because
    assert answer.clause.ages == ()


def test_the_temperature_range_keeps_the_targets_between_the_breaks() -> None:
    plan = small_plan()
    answer, searches = judged_minimum(plan, WORK, told_of=lambda search, _advice: search)
    stated, cells, programme_ = answer.recommendation, searches[0].cells, answer.together.nearest
    assert programme_ is not None
    wide = replace(stated, valid_for=replace(stated.valid_for, concrete_temperature_c=(0.0, 60.0)))
    five = MaturitySetting("equivalent age", 5000.0, 20.0)
    standing = replace(programme_, schedule=Schedule((8.0, 14.0, 24.0), (2, 2, 2)), maturity=five)
    found = temperature_range(wide, standing, cells)
    assert found is not None
    # 14 h at T are 14 exp(-5000 (1/T - 1/293.15)) h at 20 C; they must lie between the first and last break
    first_h, last_h = (
        np.median(cells.views.maturity_h[cells.settings.index(five), :, np.flatnonzero(cells.ages_h == age)[0]])
        for age in (8.0, 24.0)
    )
    for temperature_c, is_kept in ((found[0], 1), (found[1], 1), (found[0] - 1.1, 0), (found[1] + 1.1, 0)):
        reached_h = 14.0 * np.exp(-5000.0 * (1.0 / (temperature_c + 273.15) - 1.0 / 293.15))
        assert (first_h <= reached_h <= last_h) == bool(is_kept)
    unknown = replace(stated, valid_for=replace(stated.valid_for, concrete_temperature_c=None))
    assert temperature_range(unknown, standing, cells) is None
    assert extrapolated_share(cells, Schedule((72.0, 168.0, 672.0), (2, 2, 2)), five) == 1.0


def test_the_latest_first_and_the_earliest_last_break_are_the_extremes() -> None:
    """A tolerance so wide that programmes with several first and last breaks keep it."""
    found = minimum(tried(tolerance=0.6), n_draws=20, workers=1).together
    table = allowed_programmes(search_of(plan := tried(tolerance=0.6), basis_of(plan), WORK))
    assert table is not None
    first, last = ends_of(table.choices)
    keeps, ages_h = table.is_keeping.any(axis=1), table.choices.ages_h
    assert len(set(first[keeps].tolist())) > 1
    assert len(set(last[keeps].tolist())) > 1
    assert len(set(table.choices.n_ages[keeps].tolist())) > 1
    by_name = {item.of: item.programme.schedule for item in found.leasts}
    assert by_name["latest first break"].ages_h[0] == ages_h[first[keeps]].max() > ages_h[first[keeps]].min()
    assert by_name["earliest last break"].last_age_h == ages_h[last[keeps]].min() < ages_h[last[keeps]].max()
    assert by_name["ages"].n_ages == table.choices.n_ages[keeps].min()


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ((11.4, 29.6), (12.0, 29.0)),
        ((14.3, 16.7), (15.0, 16.0)),
        ((16.2, 17.9), (16.2, 17.9)),  # one full degree is no range
        ((16.2, 16.8), (16.2, 16.8)),  # rounded inward it would be turned round
        ((16.0, 17.0), (16.0, 17.0)),
    ],
)
def test_a_range_of_temperature_is_never_turned_round(found: tuple[float, float], told: tuple[float, float]) -> None:
    assert _degrees_inside(*found) == told
