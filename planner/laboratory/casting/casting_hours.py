"""When to cast, and what each schedule costs at its cheapest casting time.

Every trial batch is taken to be cast on a day of its own at the same hour, so attendances multiply. Of
casting times that cost the same the one with the fewest attendances outside hours is taken, then the
fewest attendances, then one inside laboratory hours, then the earliest.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from planner.laboratory.casting.attendance_prices import casting_price, price_and_rank
from planner.laboratory.casting.visits import VisitTable, Window, count_visits, visit_table
from planner.laboratory.quantities.programme_totals import ROUNDING
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.plan.settings import Costs, Laboratory, ProgrammeSettings, Settings

MOST_CELLS = 2_000_000  # schedules times casting times held at once: 8 MB an array
MOST_AGES = 62  # columns of an age set are packed into whole numbers, so many to one


class ScheduleCosts(NamedTuple):
    """Many schedules, each at its own cheapest casting time of those offered."""

    cost: FloatArray  # whole programme, NaN where no prices are given, shape (n_schedules,)
    n_visits: IntArray  # attendances of one trial batch, shape (n_schedules,)
    n_outside: IntArray  # those outside hours, shape (n_schedules,)
    casting_slot: IntArray  # which slot of `visit_table`, shape (n_schedules,)
    batch_cost: FloatArray  # one trial batch at each casting asked for, one row without any, (n_castings, n_schedules)


def schedule_costs(
    has_age: BoolArray,
    specimens: IntArray,
    ages_h: tuple[float, ...],
    laboratory: Laboratory | None,
    costs: Costs | None,
    programme: ProgrammeSettings,
    *,
    window: Window | None = None,
) -> ScheduleCosts:
    """Price very many schedules, each at its cheapest casting time.

    Parameters
    ----------
    has_age
        Which candidate ages each schedule breaks at, shape (n_schedules, n_ages).
    specimens
        Specimens at each candidate age, same shape; those where `has_age` is false are not counted.
    ages_h
        Candidate ages, rising [h].
    laboratory
        None: always open, one attendance a calendar day.
    costs
        None: cost is NaN and attendances alone choose the casting time.
    programme
        What is made beyond the schedule.
    window
        As in `best_casting`.

    Raises
    ------
    ValueError
        The shapes disagree, or there are more than 62 candidate ages.
    """
    if has_age.shape != specimens.shape or has_age.ndim != 2 or has_age.shape[1] != len(ages_h):
        raise ValueError(
            f"Schedules and ages disagree: has_age {has_age.shape}, specimens {specimens.shape}, {len(ages_h)} ages."
        )
    if len(ages_h) > MOST_AGES:
        raise ValueError(f"At most {MOST_AGES} candidate ages can be priced at once, given {len(ages_h)}.")
    columns = _columns(has_age, specimens, tuple(ages_h), laboratory or Laboratory(), window)
    age_sets, set_of = _age_sets(has_age, specimens, columns)
    n_visits, n_outside, slot = _cheapest_castings(age_sets, columns.table, costs)
    n_visits, n_outside, slot = n_visits[set_of], n_outside[set_of], slot[set_of]
    if costs is None:
        cost = np.full(has_age.shape[0], np.nan)
    else:
        n_specimens = np.einsum("ij,ij->i", has_age, specimens, dtype=np.int64)
        castings = casting_price(columns.table.is_casting_outside, costs)[slot]
        cost = _programme_cost(n_specimens, n_visits, n_outside, costs, programme)
        cost += programme.trial_batches * castings
    batch_cost = (cost - (cost_once(costs) if costs else 0.0)) / programme.trial_batches
    return ScheduleCosts(
        cost=cost, n_visits=n_visits, n_outside=n_outside, casting_slot=slot, batch_cost=batch_cost[None, :]
    )


def castings_costs(
    specimens: IntArray, ages_h: tuple[float, ...], settings: Settings, programme: ProgrammeSettings
) -> ScheduleCosts:
    """Price very many schedules for the castings that a run asks for, one or as many as trial batches.

    Visits are those of the trial batch that has most.

    Parameters
    ----------
    specimens
        Specimens at each age, 0 where it is not broken, shape (n_schedules, n_ages).
    """
    has_age, laboratory, costs = specimens > 0, settings.laboratory, settings.costs
    if len(settings.castings) < 2:  # the one casting, or none, serves every trial batch
        window = next(iter(settings.castings), None)
        return schedule_costs(has_age, specimens, ages_h, laboratory, costs, programme, window=window)
    alone = replace(programme, trial_batches=1, most_trial_batches=None)
    found = [
        schedule_costs(has_age, specimens, ages_h, laboratory, costs, alone, window=window)
        for window in settings.castings
    ]
    again = (len(found) - 1) * (cost_once(costs) if costs else 0.0)
    return ScheduleCosts(
        cost=np.sum([one.cost for one in found], axis=0) - again,
        n_visits=np.max([one.n_visits for one in found], axis=0),
        n_outside=np.max([one.n_outside for one in found], axis=0),
        casting_slot=found[0].casting_slot,
        batch_cost=np.concatenate([one.batch_cost for one in found]),
    )


class _Columns(NamedTuple):
    """Ages, split by specimens where it makes a difference to when the break can be."""

    table: VisitTable  # (n_slots, n_columns)
    of: IntArray  # column of an age with so many specimens, shape (n_ages, most specimens + 1)


def _columns(
    has_age: BoolArray, specimens: IntArray, ages_h: tuple[float, ...], laboratory: Laboratory, window: Window | None
) -> _Columns:
    """One column for each age, more where many specimens cannot be moved into hours and few can."""
    held = np.where(has_age, specimens, 0)
    most = int(held.max(initial=0))
    rounds = -(-np.arange(most + 1) // laboratory.machines)  # of so many specimens on the machines
    found = [
        (age, several)
        for age in range(len(ages_h))
        for several in np.unique(rounds[np.flatnonzero(np.bincount(held[:, age]))]).tolist()
        if several
    ]
    table = _table_of(found, ages_h, laboratory, window)
    alike = [next(at for at in range(n + 1) if _is_alike(found, table, at, n)) for n in range(len(found))]
    kept = sorted(set(alike))
    of = np.zeros((len(ages_h), most + 1), dtype=np.int64)
    for (age, several), at in zip(found, alike, strict=True):
        of[age, rounds == several] = kept.index(at)
    return _Columns(_table_of([found[at] for at in kept], ages_h, laboratory, window), of)


def _table_of(
    found: list[tuple[int, int]], ages_h: tuple[float, ...], laboratory: Laboratory, window: Window | None
) -> VisitTable:
    """The table of (age, rounds on the machines) pairs."""
    specimens = tuple(rounds * laboratory.machines for _, rounds in found)
    return visit_table(tuple(ages_h[age] for age, _ in found), laboratory, window, specimens=specimens)


def _is_alike(found: list[tuple[int, int]], table: VisitTable, one: int, other: int) -> bool:
    """Whether two columns are one age, broken on the same laboratory days whatever the casting time."""
    return found[one][0] == found[other][0] and bool(np.array_equal(table.day[:, one], table.day[:, other]))


def _age_sets(has_age: BoolArray, specimens: IntArray, columns: _Columns) -> tuple[BoolArray, AnyArray]:
    """The different sets of columns, and which of them each schedule has: attendances depend on them alone."""
    n_columns = columns.table.day.shape[1]
    codes = np.zeros((max(1, -(-n_columns // MOST_AGES)), has_age.shape[0]), dtype=np.int64)
    for word, code in enumerate(codes):
        bit = np.where(columns.of // MOST_AGES == word, np.int64(1) << columns.of % MOST_AGES, 0)
        bit[:, 0] = 0  # an age without specimens
        for age in range(has_age.shape[1]):
            code += bit[age][np.where(has_age[:, age], specimens[:, age], 0)]  # another bit for each age
    if len(codes) == 1:  # sorting whole numbers is much faster than sorting rows
        different, set_of = np.unique(codes[0], return_inverse=True)
    else:
        different, set_of = np.unique(codes.T, axis=0, return_inverse=True)
    words = different.reshape(len(different), -1)
    place = np.arange(n_columns)
    return (words[:, place // MOST_AGES] >> place % MOST_AGES & 1).astype(np.bool_), set_of.reshape(-1)


def _cheapest_castings(
    age_sets: BoolArray, table: VisitTable, costs: Costs | None
) -> tuple[IntArray, IntArray, IntArray]:
    slots = _different_slots(table)
    narrow = VisitTable(
        cast_at=tuple(table.cast_at[slot] for slot in slots),
        is_dated=table.is_dated,
        is_outside=table.is_outside[slots],
        day=table.day[slots],
        is_casting_outside=table.is_casting_outside[slots],
        pairs=table.pairs,
        is_shared=table.is_shared[slots],
    )
    n_visits, n_outside, chosen = (np.empty(len(age_sets), dtype=np.int64) for _ in range(3))
    n_rows = max(1, MOST_CELLS // len(slots))
    for start in range(0, len(age_sets), n_rows):
        rows = slice(start, start + n_rows)
        counts = count_visits(age_sets[rows], narrow)
        price, rank = price_and_rank(counts.n_visits, counts.n_outside, narrow.is_casting_outside, costs)
        rank[price > price.min(axis=1, keepdims=True)] = np.inf
        best = rank.argmin(axis=1)
        n_visits[rows] = np.take_along_axis(counts.n_visits, best[:, None], axis=1)[:, 0]
        n_outside[rows] = np.take_along_axis(counts.n_outside, best[:, None], axis=1)[:, 0]
        chosen[rows] = slots[best]
    return n_visits, n_outside, chosen


def _different_slots(table: VisitTable) -> AnyArray:
    """The first of all casting times that treat every age alike, rising."""
    pattern = np.column_stack([table.is_outside, table.is_shared, table.is_casting_outside])
    _, first = np.unique(pattern, axis=0, return_index=True)
    return np.sort(first)


def _programme_cost(
    n_specimens: IntArray,
    n_visits: IntArray,
    n_outside: IntArray,
    costs: Costs,
    programme: ProgrammeSettings,
) -> FloatArray:
    n_spares = np.ceil(programme.spares * n_specimens - ROUNDING)
    more = costs.other_each_specimen
    one_batch = (
        (n_specimens + n_spares + programme.instrumented) * (costs.specimen + more)
        + n_specimens * (costs.preparation + costs.break_one)
        + (n_visits - n_outside) * costs.visit
        + n_outside * costs.visit_outside_hours
        + n_visits * costs.other_per("visit")
        + programme.instrumented * costs.instrumented
        + costs.fixed
        + costs.other_per("batch")
    )
    return np.asarray(programme.trial_batches * one_batch + cost_once(costs), dtype=np.float64)


def cost_once(costs: Costs) -> float:
    """What a calibration costs however many trial batches it has; its site checks are priced beside it."""
    return costs.other_per("programme")
