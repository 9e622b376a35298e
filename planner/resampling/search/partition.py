"""How a search is cut: into pieces small enough for memory, along the sets of ages so that none is fitted twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from planner.choices import ChoiceSet
from planner.resampling.errors.scoring import Scoring
from planner.terms.arrays import BoolArray, IntArray

ROWS_PER_PIECE = 400_000  # joint choices a piece looks through
HELD_ROWS_PER_PIECE = 80_000  # the same where the losses of all of them are held at once
VALUES_PER_PIECE = 8_000_000  # figures of the sets of a piece, or losses that are held: 64 MB
FEWEST_PER_SCOUT = 16  # sets: with fewer the scout would cost more than it saves
PATTERNS_PER_SCOUT = 16
ROWS_PER_SCOUT = 40_000  # everybody scouts, since nobody goes on before the scouts are back
SCOUT_FITS = 50_000  # curves of one joint that the scout may fit: a few per cent of any long search


def cut(choices: ChoiceSet, n_joints: int, scoring: Scoring, *, is_scouting: bool = False) -> list[slice]:
    """Cut schedules into pieces, spans of them. Workers do not count, so that the cut is always the same."""
    most_ages = choices.set_members.shape[1]
    at_checks = len(scoring.unit) * (most_ages + 2)
    in_units = n_joints * scoring.n_units * (most_ages + 3)
    if scoring.is_linear:
        most_rows = ROWS_PER_SCOUT if is_scouting else ROWS_PER_PIECE
    else:
        most_rows = min(HELD_ROWS_PER_PIECE, ROWS_PER_PIECE, VALUES_PER_PIECE // scoring.n_units)
        at_checks *= n_joints  # their figures at checks are all held
    most_choices = max(1, most_rows // n_joints)
    most_sets = max(1, VALUES_PER_PIECE // max(1, at_checks, in_units))
    pieces: list[slice] = []
    for first, last in _along_sets(choices, most_choices, most_sets):
        n_parts = -(-(last - first) // most_choices)
        edges = [first + part * (last - first) // n_parts for part in range(n_parts + 1)]
        pieces += [slice(low, high) for low, high in pairwise(edges)]
    return pieces


def _along_sets(choices: ChoiceSet, most_choices: int, most_sets: int) -> Iterator[tuple[int, int]]:
    """Spans of whole sets within the limits; one set alone may pass the limit of choices."""
    edges = np.r_[0, _last_of_sets(choices) + 1]
    start, n_sets = 0, 0
    for low, high in pairwise(edges.tolist()):
        if n_sets and (high - start > most_choices or n_sets == most_sets):
            yield start, low
            start, n_sets = low, 0
        n_sets += 1
    if start < len(choices):
        yield start, len(choices)


def _last_of_sets(choices: ChoiceSet) -> IntArray:
    """The last schedule of each run of one set, rising."""
    is_last = np.ones(len(choices), dtype=bool)
    np.not_equal(choices.set_of[1:], choices.set_of[:-1], out=is_last[:-1])
    return np.flatnonzero(is_last)


def scouts(choices: ChoiceSet, n_views: int) -> IntArray:
    """A few schedules, few specimens and many, of sets spread over all."""
    last = _last_of_sets(choices)
    first = np.r_[0, last[:-1] + 1]
    stride = max(FEWEST_PER_SCOUT, -(-len(last) * n_views // SCOUT_FITS))
    spread = np.linspace(first[::stride], last[::stride], PATTERNS_PER_SCOUT).round().astype(np.int64)
    return np.unique(spread)


def maximal_patterns(choices: ChoiceSet) -> BoolArray:
    """Patterns that no further specimen fits into: at every age the most, or the budget spent, ``(n_patterns,)``."""
    is_used = choices.is_used()
    n_specimens = np.where(is_used, choices.patterns.sum(axis=1, dtype=np.int64), 0)
    full = int(choices.patterns[is_used].max()) * (choices.patterns > 0).sum(axis=1)
    return np.asarray(is_used & ((n_specimens == full) | (n_specimens == n_specimens.max())))
