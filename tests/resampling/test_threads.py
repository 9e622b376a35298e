"""Parts come back in their order, from one thread or from several."""

from __future__ import annotations

import threading

import pytest

from planner.resampling.threads import in_order


@pytest.mark.parametrize(("n_parts", "n_workers"), [(0, 2), (1, 2), (1, 1), (7, 1), (7, 3)])
def test_in_their_order(n_parts: int, n_workers: int) -> None:
    assert list(in_order(lambda part: part * part, range(n_parts), n_workers)) == [part**2 for part in range(n_parts)]


def test_few_parts_are_ahead_of_who_takes_them() -> None:
    begun: list[int] = []
    answers = in_order(begun.append, range(40), 2)
    for n_taken in range(1, 30):
        next(answers)
        assert len(begun) <= n_taken + 4
    assert len(list(answers)) == 11
    assert sorted(begun) == list(range(40))


@pytest.mark.parametrize(("n_parts", "n_workers", "is_here"), [(1, 4, True), (5, 1, True), (5, 2, False)])
def test_a_thread_is_started_only_where_it_can_help(n_parts: int, n_workers: int, is_here: bool) -> None:
    where = list(in_order(lambda _: threading.get_ident(), range(n_parts), n_workers))
    assert (set(where) == {threading.get_ident()}) is is_here


def test_what_a_part_raises_is_raised() -> None:
    def fail(part: int) -> int:
        if part == 2:
            raise ValueError("part 2")
        return part

    for n_workers in (1, 3):
        with pytest.raises(ValueError, match="part 2"):
            list(in_order(fail, range(4), n_workers))
