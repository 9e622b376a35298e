"""Whoever works, however the search is cut: the same answer."""

from __future__ import annotations

import threading
from dataclasses import replace

import numpy as np
import pytest

from planner.choices.choice_set import ChoiceSet
from planner.resampling import Scoring, joints_of
from planner.resampling.search import error_matrix as matrix
from planner.resampling.search import partition as cutting
from planner.resampling.search.executors import AHEAD_PER_THREAD, Threads
from planner.resampling.search.pieces import Piece
from planner.resampling.search.task import Question
from planner.steps.allowed_choices import offered_choices
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Plan
from planner.verdict.selection.rule import Rule, cheapness_tiers
from tests.resampling.searches import assert_same, cut_small, other_plan, search, starter_plan


@pytest.mark.parametrize("n_workers", [2, 3, 8])
def test_the_answer_is_the_same_to_the_last_bit_for_any_number_of_workers(
    n_workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_small(monkeypatch)
    alone = search(n_workers=1)
    for _ in range(3):  # threads take turns differently each time
        assert_same(search(n_workers=n_workers), alone)


def test_the_cut_changes_no_score_and_no_pick(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = search()
    cut_small(monkeypatch, 500)
    pieces = search()
    assert np.array_equal(whole.score, pieces.score)
    assert np.array_equal(whole.best_joint, pieces.best_joint)
    assert _picked(whole) == _picked(pieces)


def _picked(found: matrix.ErrorMatrix) -> list[tuple[int, int]]:
    """Schedule and joint chosen with all batches and without each."""
    rule = Rule(found, cheapness_tiers(found.choices.n_specimens, found.choices.last_age_h))
    everything = rule.pick(rule.training(np.ones(found.loss.shape[1], dtype=bool)))
    assert everything is not None
    rows = [everything.chosen, *(pick.chosen for pick in rule.folds().values())]
    return [(found.choice_of(row), int(found.row_joint[row])) for row in rows]


def test_no_set_of_ages_is_fitted_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = search()
    cut_small(monkeypatch, 7_000)  # a set has at most 64 patterns of 96 joint choices
    assert search().n_fits == whole.n_fits


@pytest.mark.parametrize("n_workers", [1, 2])
def test_only_scouts_go_without_knowing_what_is_near_the_best(n_workers: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cut_small(monkeypatch, 500)
    monkeypatch.setattr(cutting, "ROWS_PER_SCOUT", 200)
    plan = starter_plan()
    _cells, _offered, choices = offered_choices(plan)
    n_scouting = len(cutting.scouts(choices, 1))
    ignorant: list[int] = []
    real = matrix.answer_piece

    def answer(question: Question, program: str, which: IntArray, threshold: FloatArray) -> Piece:
        if np.isinf(threshold[-1, -1]):
            ignorant.append(len(which))
        return real(question, program, which, threshold)

    monkeypatch.setattr(matrix, "answer_piece", answer)
    search(n_workers=n_workers)
    assert 0 < sum(ignorant) <= n_scouting < len(choices) / 2


def choices_of(patterns: list[int]) -> ChoiceSet:
    """As many schedules of each set as told."""
    n_sets = len(patterns)
    set_of = np.repeat(np.arange(n_sets), patterns)
    return ChoiceSet(
        np.arange(1.0, 9.0), np.zeros((n_sets, 4), dtype=np.int16), np.full(n_sets, 4), set_of,
        np.zeros_like(set_of), np.full((1, 4), 2, dtype=np.int16),
    )  # fmt: skip


@pytest.mark.parametrize("patterns", [[1], [5, 5, 5], [100, 1, 1, 1], [3, 50, 3], [1] * 40, [7, 11, 13, 2, 9]])
@pytest.mark.parametrize("n_rows", [1, 10, 12, 1_000])
def test_every_schedule_is_in_one_piece_and_a_set_is_split_only_where_it_is_too_large(
    patterns: list[int], n_rows: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_small(monkeypatch, n_rows)
    choices = choices_of(patterns)
    cells, _offered, _choices = offered_choices(starter_plan())
    scoring = Scoring.of(cells, starter_plan().settings.target)
    every = np.arange(len(choices))
    pieces = [every[span] for span in cutting.cut(choices, 1, scoring)]
    assert np.array_equal(np.concatenate(pieces), every)
    for piece in pieces:
        assert 0 < len(piece) <= n_rows
    for at, n_patterns in enumerate(patterns):
        holders = [piece for piece in pieces if np.any(choices.set_of[piece] == at)]
        assert len(holders) == (1 if n_patterns <= n_rows else -(-n_patterns // n_rows))


def test_many_checks_make_pieces_of_few_sets(monkeypatch: pytest.MonkeyPatch) -> None:
    cells, _offered, _choices = offered_choices(starter_plan())
    scoring = Scoring.of(cells, starter_plan().settings.target)
    monkeypatch.setattr(cutting, "VALUES_PER_PIECE", 3 * len(scoring.unit) * 6)  # three sets of four ages
    spans = cutting.cut(choices_of([1] * 10), 1, replace(scoring, n_units=1))
    assert [span.stop - span.start for span in spans] == [3, 3, 3, 1]


def test_a_pattern_is_maximal_where_no_other_of_its_ages_has_as_many_everywhere() -> None:
    _cells, _offered, choices = offered_choices(starter_plan())
    some = choices.part(choices.n_specimens <= choices.n_specimens.max() - 2)  # the dearest patterns are nobody's now
    for listed in (choices, some):
        is_maximal = cutting.maximal_patterns(listed)[listed.pattern_of]
        for n_ages in np.unique(listed.n_ages):
            rows = np.flatnonzero(listed.n_ages == n_ages)
            found = {tuple(row): is_it for row, is_it in zip(listed.specimens_of(rows), is_maximal[rows], strict=True)}
            for counts, is_it in found.items():
                beyond = [other for other in found if other != counts and all(np.greater_equal(other, counts))]
                assert is_it == (not beyond)


def test_an_interruption_lets_go_of_the_pieces_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    cut_small(monkeypatch, 500)
    begun = []
    real = matrix.answer_piece
    monkeypatch.setattr(matrix, "answer_piece", lambda *given: begun.append(1) or real(*given))

    def stop(_done: int, total: int, _what: str) -> None:
        assert total > 20
        raise KeyboardInterrupt

    before = set(threading.enumerate())
    with pytest.raises(KeyboardInterrupt):
        search(n_workers=2, progress=stop)
    assert len(begun) <= 2 * AHEAD_PER_THREAD + 1
    assert set(threading.enumerate()) <= before  # other tests may have left threads of their own


def test_a_fault_in_one_piece_is_the_fault_of_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    cut_small(monkeypatch)

    def fail(*_given: object) -> None:
        raise MemoryError("no room")

    monkeypatch.setattr(matrix, "answer_piece", fail)
    for n_workers in (1, 2):
        with pytest.raises(MemoryError, match="no room"):
            search(n_workers=n_workers)


def test_threads_hand_back_in_any_order() -> None:
    with Threads(3) as crew:
        handed = [crew.submit(pow, base, 2) for base in range(9)]
        assert [pending.result() for pending in reversed(handed)] == [base**2 for base in reversed(range(9))]


def test_a_question_has_one_fingerprint_and_another_question_another() -> None:
    first = question(starter_plan())
    target = starter_plan().settings.target
    stricter = replace(first, scoring=replace(first.scoring, tolerance=target.tolerance + 0.01))
    asked = [first, stricter, replace(first, is_all_kept=True), replace(first, joints=first.joints[1:])]
    asked += [question(other_plan()), replace(first, is_maximal=~first.is_maximal)]
    assert first.fingerprint() == question(starter_plan()).fingerprint()
    assert len({each.fingerprint() for each in asked}) == len(asked)


def question(plan: Plan) -> Question:
    cells, _offered, choices = offered_choices(plan)
    return Question(
        cells=cells,
        choices=choices,
        joints=joints_of(plan.settings.curves, cells.settings),
        scoring=Scoring.of(cells, plan.settings.target),
        is_maximal=cutting.maximal_patterns(choices),
        is_all_kept=False,
    )
