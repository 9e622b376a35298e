"""The nearest known name, for messages about names that are not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(word: str, known: Iterable[str], *, cutoff: float = 0.5) -> str | None:
    """Find the known word most like the given one, or None where nothing is like it."""
    found = difflib.get_close_matches(word[:80], list(known), n=1, cutoff=cutoff)
    return found[0] if found else None


def slips(given: str, meant: str) -> int:
    """Count the slips of the pen between two short words: a letter lost, added, swapped or wrong.

    The restricted Damerau-Levenshtein distance.
    """
    before: list[int] = []
    row = list(range(len(meant) + 1))
    for i, letter in enumerate(given, 1):
        current = [i]
        for j, other in enumerate(meant, 1):
            cost = min(row[j] + 1, current[j - 1] + 1, row[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == meant[j - 2] and given[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            current.append(cost)
        before, row = row, current
    return row[-1]


def is_slip(given: str, meant: str) -> bool:
    """Tell whether one heading is so near another that it can only be a misspelling of it."""
    length = len(meant)
    allowed = 0 if length <= 3 else 1 if length <= 6 else 2
    return abs(len(given) - length) <= allowed and 0 < slips(given, meant) <= allowed
