"""Breaks of several castings that need the machines at the same time."""

from __future__ import annotations

import datetime as dt
import heapq
from collections.abc import Iterable
from dataclasses import dataclass

from .break_times import BreakSlot


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """When one specimen goes in, if castings take turns."""

    casting: str
    age_h: float
    starts_at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Breaks of different castings that overlap on the machines."""

    slots: tuple[BreakSlot, ...]  # by due time
    is_solvable: bool  # taking turns, every specimen is broken inside its own window
    turns: tuple[Turn, ...]  # the order, specimen with the earliest limit first
    text: str  # one or two sentences


def conflicts(slots: Iterable[BreakSlot], machines: int) -> tuple[Conflict, ...]:
    """Find the breaks of different castings that want the machines at once.

    Parameters
    ----------
    slots
        Breaks of all castings, each with its casting's label.
    machines
        Machines shared by all of them.

    Raises
    ------
    ValueError
        Fewer than one machine.
    """
    if machines < 1:
        raise ValueError(f"At least one machine is needed, given {machines}.")
    return tuple(
        _conflict(cluster, machines)
        for cluster in _overlapping(slots)
        if len({slot.casting for slot in cluster}) > 1 and sum(slot.n_specimens for slot in cluster) > machines
    )


def _overlapping(slots: Iterable[BreakSlot]) -> list[list[BreakSlot]]:
    """Chains of slots whose breaking times overlap, in order of time."""
    clusters: list[list[BreakSlot]] = []
    busy_until_s = float("-inf")
    for slot in sorted(slots, key=lambda item: (item.starts_at.timestamp(), item.casting, item.age_h)):
        if slot.starts_at.timestamp() < busy_until_s:
            clusters[-1].append(slot)
        else:
            clusters.append([slot])
        busy_until_s = max(busy_until_s, slot.ends_at.timestamp())
    return clusters


def _conflict(cluster: list[BreakSlot], machines: int) -> Conflict:
    ordered = tuple(sorted(cluster, key=lambda slot: (slot.due_at.timestamp(), slot.casting)))
    turns, is_solvable = _take_turns(cluster, machines)
    names = ", ".join(f"{slot.casting or 'casting'} at {slot.age_h:g} h" for slot in ordered)
    outcome = (
        "Taking turns, all stay inside their permitted windows."
        if is_solvable
        else "They cannot all be broken inside their permitted windows: cast one batch at another hour."
    )
    text = f"{names} need the machines at the same time, {ordered[0].due_at:%Y-%m-%d %H:%M}. {outcome}"
    return Conflict(slots=ordered, is_solvable=is_solvable, turns=turns, text=text)


def _take_turns(cluster: list[BreakSlot], machines: int) -> tuple[tuple[Turn, ...], bool]:
    """Begin as little ahead of time as keeps everyone inside, at the planned times where that is enough."""
    step_s = 60.0 * max(slot.minutes_per_break for slot in cluster)
    n_steps = sum(slot.n_specimens for slot in cluster)
    planned = _turns_beginning(cluster, machines, ahead_s=0.0)
    tries = (_turns_beginning(cluster, machines, ahead_s=n * step_s) for n in range(1, n_steps + 1))
    return planned if planned[1] else next((turns for turns in tries if turns[1]), planned)


def _turns_beginning(cluster: list[BreakSlot], machines: int, *, ahead_s: float) -> tuple[tuple[Turn, ...], bool]:
    """Give each free machine the waiting specimen whose window closes first."""
    waiting = [slot for slot in sorted(cluster, key=_closes_first) for _ in range(slot.n_specimens)]
    free_s = [min(_ready_s(slot, ahead_s) for slot in cluster)] * machines
    turns: list[Turn] = []
    is_solvable = True
    while waiting:
        now_s = heapq.heappop(free_s)
        ready = [slot for slot in waiting if _ready_s(slot, ahead_s) <= now_s]
        if not ready:
            heapq.heappush(free_s, min(_ready_s(slot, ahead_s) for slot in waiting))
            continue
        slot = ready[0]
        waiting.remove(slot)
        ends_s = now_s + 60.0 * slot.minutes_per_break
        is_solvable &= ends_s <= slot.latest_at.timestamp()
        starts_at = dt.datetime.fromtimestamp(now_s, tz=dt.UTC).astimezone(slot.due_at.tzinfo)
        turns.append(Turn(casting=slot.casting, age_h=slot.age_h, starts_at=starts_at))
        heapq.heappush(free_s, ends_s)
    return tuple(turns), is_solvable


def _ready_s(slot: BreakSlot, ahead_s: float) -> float:
    return max(slot.earliest_at.timestamp(), slot.starts_at.timestamp() - ahead_s)


def _closes_first(slot: BreakSlot) -> tuple[float, float, str]:
    return slot.latest_at.timestamp(), slot.age_h, slot.casting
