"""A search that lets go of schedules and rows gives the answer of one that holds them all, to the last bit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial
from typing import Any

import numpy as np
import pytest

from planner.choices import ChoiceSet
from planner.laboratory.casting.constraint_cases import Constraint
from planner.pipeline import minimum, price, recommend
from planner.population import basis_of
from planner.report.documents.values.minimum_document import minimum_document
from planner.report.documents.values.price_document import price_document
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.resampling.errors.later_pours.judged_programmes import Programmes
from planner.resampling.search.row_limit import RowLimit
from planner.steps import allowed_choices, large_search, searching
from planner.steps.allowed_choices import price_tiers, rank_prices
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Costs, Plan, ProgrammeSettings, Settings
from planner.verdict.answers.minimum import asked_of_least, standard_counts
from planner.verdict.answers.minimum.allowed_programmes import allowed_programmes
from planner.verdict.selection import asked_schedules, rule
from planner.verdict.selection.programmes import set_counts
from planner.verdict.selection.programmes.price_fronts import price_fronts
from planner.verdict.selection.rule import cheapness_tiers
from planner.verdict.wording.held_out_words import JUDGING
from tests.laws.invented import plan_of, programme, settings

COSTS = Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0, visit=90.0, fixed=400.0)
N_LOWEST = 60
MOST_LOWEST = 200  # of rows; as in the program more than the bootstrap repeats the rule over
SEEDS = range(5)


def middling(seed: int) -> Plan:
    """Some thousand schedules; every other plan has prices, some allow several trial batches or lack an age."""
    rng = np.random.default_rng((8, seed))
    records = programme(n_batches=int(rng.integers(3, 8)), cv=float(rng.uniform(0.02, 0.07)), seed=seed)
    if seed % 4 == 3:
        records = replace(
            records, breaks=tuple(item for item in records.breaks if (item.batch, item.age_h) != ("B2", 72.0))
        )
    asked = settings(
        most_ages=5, specimens_per_age=(2, 4), specimens=int(rng.integers(14, 22)),
        judged_on="own batch" if seed % 5 == 4 else "later pour", assurance=float(rng.choice([0.4, 0.9])),
    )  # fmt: skip
    asked_programme = ProgrammeSettings(instrumented=0, trial_batches=1, most_trial_batches=int(rng.integers(1, 4)))
    return plan_of(records, replace(asked, programme=asked_programme, costs=COSTS if seed % 2 else None))


def answer(plan: Plan) -> dict[str, Any]:
    """Every figure and sentence of the document, and the first rows of the table of schedules."""
    advice = recommend(plan, n_draws=40, workers=1)
    document = recommendation_document(advice)
    document["search"].pop("seconds")
    table = advice.choices
    document["first rows"] = [
        (table.schedules[at], table.curve[at], table.maturity[at], table.score[at], table.rms[at], table.n_visits[at])
        for at in range(N_LOWEST)
    ]
    return document


@cache
def held_answer(seed: int) -> dict[str, Any]:
    """The answer of a search that holds everything, for the tests that hold another against it; asked for first."""
    return answer(middling(seed))


@pytest.fixture(autouse=True)
def _few_neighbours(monkeypatch: pytest.MonkeyPatch) -> None:
    """Small plans have too few rows for the program's own number to bind."""
    monkeypatch.setattr(rule, "MOST_NEIGHBOURS", 60)


def let_go(monkeypatch: pytest.MonkeyPatch, *, most_rows: int = 10**9) -> None:
    """Hold few schedules, and price and judge them in small blocks."""
    monkeypatch.setattr(searching, "MOST_HELD", 50)
    monkeypatch.setattr(searching, "MOST_ROWS", N_LOWEST)
    monkeypatch.setattr(searching, "MOST_ROWS_HELD", most_rows)
    monkeypatch.setattr(searching, "RowLimit", partial(RowLimit, most_lowest=MOST_LOWEST))
    monkeypatch.setattr(allowed_choices, "PRICED_AT_ONCE", 470)
    monkeypatch.setattr(asked_schedules, "AT_ONCE", 230)


@pytest.mark.parametrize("seed", SEEDS)
def test_schedules_that_nothing_asks_for_change_no_answer(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = middling(seed)
    held = held_answer(seed)
    let_go(monkeypatch)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    assert len(search.matrix.choices) < 0.95 * len(search.listed)
    assert search.matrix.n_searched == len(search.listed)
    assert answer(plan) == held


@pytest.mark.usefixtures("without_studies")
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_prices_of_a_search_that_lets_go_are_those_of_all(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = middling(seed)

    def priced() -> dict[str, Any]:
        document = price_document(price(plan, n_draws=10, workers=1))
        document["recommendation"]["search"].pop("seconds")
        return document

    held = priced()
    let_go(monkeypatch)
    assert held["frontier_by_specimens"]
    assert priced() == held


@pytest.mark.usefixtures("without_studies")
@pytest.mark.parametrize(("seed", "tolerance"), [(1, 0.08), (2, 0.12), (3, 0.30), (0, 0.05)])
def test_the_least_of_a_search_that_lets_go_is_that_of_all(
    seed: int, tolerance: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two targets, a constraint and a standard that part the schedules of one set of ages.

    At the first and last tolerance no later pour is kept, so the least on the own batch is told.
    """
    plan = middling(seed)
    target = replace(plan.settings.target, ages_h=(24.0, 72.0), tolerance=tolerance, assurance=0.8)
    plan = replace(plan, settings=replace(plan.settings, target=target))
    own, real = standard_counts.StandardCounts("invented", 10, 3), large_search.constraints_on

    def constraints_on(choices: ChoiceSet, settings: Settings) -> tuple[Constraint, ...]:
        is_odd = np.asarray((choices.n_specimens % 2 == 1) & (choices.specimens[:, 0] == 4))
        return (*real(choices, settings), ("an odd number, four first", is_odd))

    for room in (large_search, searching):
        monkeypatch.setattr(room, "constraints_on", constraints_on)
    for room in (standard_counts, asked_of_least):
        monkeypatch.setattr(room, "STANDARDS", (own,))

    def least() -> dict[str, Any]:
        document = minimum_document(minimum(plan, standard="invented", n_draws=10, workers=1))
        document["recommendation"]["search"].pop("seconds")
        return document

    held = least()
    let_go(monkeypatch)
    monkeypatch.setattr(set_counts, "MOST_CHECKED", 70)
    thinned = least()
    monkeypatch.setattr(searching, "MOST_HELD", 10**9)
    assert thinned == least()
    monkeypatch.setattr(set_counts, "MOST_CHECKED", 5_000)
    assert least() == held
    assert bool(held["together"]["own_batch"]) is (tolerance == 0.08)
    assert bool(held["together"]["leasts"]) is (tolerance in (0.12, 0.30))


def test_the_least_holds_few_schedules(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = middling(2)
    let_go(monkeypatch)
    monkeypatch.setattr(set_counts, "MOST_CHECKED", 70)
    said: list[tuple[int, int, str]] = []
    work = Work.of(1, 1, 1, lambda *told: said.append(told))
    search = search_of(plan, basis_of(plan), work, asks="the least")
    judged = [(done, total) for done, total, what in said if what == JUDGING]
    assert judged == [(min(end, 3087), 3087) for end in range(230, 3087 + 230, 230)]
    assert search.counted is not None
    assert len(search.matrix.choices) < 0.95 * len(search.listed)
    assert search.counted.by_set.schedules.sum() <= len(search.listed)
    everything = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None), asks="everything")
    assert len(everything.matrix.choices) == len(search.listed)
    assert everything.counted is None
    # the even choice that rules are checked on stays too, each under its own place
    allowed = allowed_programmes(everything)
    assert allowed is not None
    even = set_counts.evenly(np.flatnonzero(allowed.fixed.is_possible.any(axis=1)))
    assert [search.matrix.choices.schedule(which) for which in search.counted.checked] == [
        allowed.choices.schedule(which) for which in even
    ]


def test_firsts_of_every_set_on_the_own_batch_stay_where_no_later_pour_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = middling(1)
    target = replace(plan.settings.target, tolerance=0.045, assurance=0.8)
    plan = replace(plan, settings=replace(plan.settings, target=target))
    let_go(monkeypatch)
    monkeypatch.setattr(set_counts, "MOST_CHECKED", 10)
    work = Work.of(1, 1, 1, None)
    cut, everything = (search_of(plan, basis_of(plan), work, asks=asks) for asks in ("the least", "everything"))
    own = allowed_programmes(everything, "own batch")
    assert own is not None
    assert cut.counted is not None
    assert not cut.counted.by_set.keeping.any()
    held = {cut.matrix.choices.schedule(which) for which in range(len(cut.matrix.choices))}
    assert len(held) < len(own.choices)
    decisions = [own.fixed.decide(own.choices.set_of == one) for one in range(own.choices.n_sets)]
    fewest = {own.choices.schedule(one.fewest.which) for one in decisions if one is not None and one.fewest is not None}
    assert len(fewest) > 5
    assert fewest <= held


def test_what_parts_a_set_is_asked_of_its_schedules() -> None:
    """Spanning, each standard's counts, both together, then the constraints."""
    plan = middling(2)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    matrix = search.matrix
    odd = np.asarray(matrix.choices.n_specimens % 2 == 1)
    asked = asked_of_least.AskedOfLeast(search.cells, lambda _: [("odd", odd)], "later pour", 0.8)
    spanning, counts, both, own = asked._masks(matrix.choices, matrix.best_joint, matrix)
    (standard,) = standard_counts.STANDARDS
    has_age = matrix.choices.has_age()
    assert spanning[has_age[:, 0]].all()  # a break at 6 h, the target at 12 h
    assert not spanning[~has_age[:, :2].any(axis=1)].any()
    assert np.array_equal(counts, standard.are_had_by(matrix.choices))
    assert np.array_equal(both, counts & spanning)
    assert np.array_equal(own, odd)


@pytest.mark.parametrize("seed", [0, 2, 4, 6, 12])  # of those with a hole all rows are held
def test_dear_rows_that_go_change_no_answer(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = middling(seed)
    held = held_answer(seed)
    let_go(monkeypatch)
    work = Work.of(1, 1, 1, None)
    whole = search_of(plan, basis_of(plan), work)
    assert whole.programmes is not None
    takens = [whole.programmes.choose(), *map(whole.programmes.choose_without, range(whole.cells.n_units))]
    dearest = max(int(whole.rule.tier[chosen.taken.which]) for chosen in takens if chosen is not None)
    up_to = int(np.sum(whole.rule.tier[whole.matrix.row_choice] <= dearest))  # rows no dearer than all that is taken
    let_go(monkeypatch, most_rows=up_to)
    cut = search_of(plan, basis_of(plan), work)
    assert cut.matrix.dearest_whole is not None
    assert len(cut.matrix.row_choice) < len(whole.matrix.row_choice)
    assert not cut.is_thinned
    assert answer(plan) == held


def test_it_is_said_where_rows_as_cheap_as_the_taken_had_to_go(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = middling(2)
    let_go(monkeypatch, most_rows=1)
    cut = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    assert cut.is_thinned
    assert "search-thinned" in [caution.code for caution in recommend(plan, n_draws=40, workers=1).cautions]


def test_tiers_of_blocks_are_those_of_all_together(monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in (0, 1):
        plan = middling(seed)
        choices = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None)).listed
        whole = cheapness_tiers(*rank_prices(choices, plan.settings).keys)
        monkeypatch.setattr(allowed_choices, "PRICED_AT_ONCE", 170)
        assert np.array_equal(price_tiers(choices, plan.settings), whole)
        monkeypatch.undo()


@pytest.mark.parametrize("n_values", [3, 8, 1000])  # few values: many programmes alike in a figure or in all
def test_fronts_against_every_pair(n_values: int) -> None:
    rng = np.random.default_rng((9, n_values))
    n = 400
    figures = rng.integers(n_values, size=(4, n, 2)).astype(np.float32)
    figures[0, rng.random((n, 2)) < 0.1] = np.nan
    stated = Programmes(
        trial_batches=(1, 2), rms=figures[0], worst=figures[1], over_beyond=figures[2], within_tolerance=figures[3]
    )
    price = (rng.integers(3, size=n).astype(np.float64), rng.integers(2, size=n))
    score, is_allowed = rng.integers(4, size=n).astype(np.float64), rng.random((n, 2)) < 0.8
    for column, found in enumerate(price_fronts(stated, [0, 1], is_allowed, price, score)):
        offered = np.flatnonzero(is_allowed[:, column] & np.isfinite(figures[0, :, column]))
        expected = []
        for i in offered:
            rivals = [j for j in offered if j != i and all(key[i] == key[j] for key in price)]
            mine = figures[:3, i, column]
            beaten = any(
                np.all(figures[:3, j, column] <= mine) and np.any(figures[:3, j, column] < mine) for j in rivals
            )
            alike = [j for j in rivals if np.all(figures[:3, j, column] == mine)]
            if not beaten and all((score[i], i) < (score[j], j) for j in alike):
                expected.append(i)
        assert found.tolist() == expected


def test_rows_that_stay_hold_the_lowest_of_every_tier_and_fold() -> None:
    rng = np.random.default_rng(10)
    tier, row_choice = rng.integers(12, size=300), np.repeat(np.arange(300), 3)
    loss = rng.uniform(0.001, 0.01, size=(900, 5))
    kept, bar = RowLimit(tier, 200, most_lowest=10).kept(row_choice, loss, rng.random(900) < 0.2)
    of_row = tier[row_choice]
    assert bar is not None
    dearest = bar.dearest
    assert kept[of_row <= dearest].all()
    assert np.sum(of_row <= dearest) <= 200 < np.sum(of_row <= dearest + 1)
    for left in (loss.sum(axis=1), *(np.delete(loss, unit, axis=1).sum(axis=1) for unit in range(5))):
        for value in range(12):
            rows = np.flatnonzero(of_row == value)
            assert kept[rows[np.argmin(left[rows])]]
    assert kept[np.argsort(loss.sum(axis=1))[:10]].all()
    assert kept.sum() < 600
    assert RowLimit(tier, 900).kept(row_choice, loss, np.zeros(900, dtype=bool))[1] is None


def test_rows_with_holes_are_let_go_by_what_their_other_units_say() -> None:
    rng = np.random.default_rng(11)
    tier, row_choice = rng.integers(12, size=300), np.repeat(np.arange(300), 3)
    whole = rng.uniform(0.001, 0.01, size=(900, 1)) * np.array([1.0, 2.0, 0.5, 1.0, 1.5])
    holed = whole.copy()
    holed[rng.random(900) < 0.9, 4] = np.nan  # nearly every row lacks the last unit
    is_low = rng.random(900) < 0.2
    limit = RowLimit(tier, 200, most_lowest=10)
    # every row is its mean times what a unit is worth: a hole hides nothing, so the same rows stay
    kept, bar = limit.kept(row_choice, holed, np.zeros(900, dtype=bool))
    expected, as_dear = limit.kept(row_choice, whole, np.zeros(900, dtype=bool))
    assert bar is not None
    assert as_dear is not None
    assert bar.dearest == as_dear.dearest
    assert np.array_equal(kept, expected)
    with_low, _ = limit.kept(row_choice, holed, is_low)
    assert with_low[kept].all()
