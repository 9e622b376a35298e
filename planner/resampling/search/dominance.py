"""Choices that some other beats in every unit: whatever the batches count, they are never the only best."""

from __future__ import annotations

import numpy as np

from planner.compiled import njit
from planner.terms.arrays import BoolArray, FloatArray

MOST_COMPARED = 4_000  # undominated choices that each further choice is held against


def undominated(loss: FloatArray, *, most_compared: int = MOST_COMPARED, most_kept: int | None = None) -> BoolArray:
    """Which choices can have the lowest mean loss under some counts of the units.

    A choice is dropped when another is no worse in every unit, the first of equals is kept. Where more
    than `most_compared` stay, later ones are held against the first of them only, so that some dominated
    ones may stay as well; none that could win is ever lost.

    Parameters
    ----------
    loss
        Finite, shape ``(n_choices, n_units)``.
    most_kept
        Of more than so many those of lowest sum are kept; None: all are.

    Returns
    -------
    BoolArray
        Truths, ``(n_choices,)``.
    """
    # What dominates has no larger sum. Where rounding orders two sums wrongly, one row too many is kept.
    order = np.argsort(loss.sum(axis=1), kind="stable")
    is_kept = np.zeros(len(loss), dtype=bool)
    is_kept[order] = _undominated(
        np.ascontiguousarray(loss[order]), most_compared, len(loss) if most_kept is None else most_kept
    )
    return is_kept


@njit(cache=True, nogil=True)
def _undominated(rows, most_compared, most_kept):
    """Truths per row, rows sorted so that a dominating one comes first; done when `most_kept` are found."""
    n_choices, n_units = rows.shape
    is_kept = np.zeros(n_choices, dtype=np.bool_)
    front = np.empty((min(most_compared, n_choices), n_units))
    n_front = n_kept = 0
    for choice in range(n_choices):
        if n_kept == most_kept:
            break
        is_dominated = False
        for other in range(n_front):
            unit = 0
            while unit < n_units and front[other, unit] <= rows[choice, unit]:
                unit += 1
            if unit == n_units:
                is_dominated = True
                break
        if not is_dominated:
            is_kept[choice] = True
            n_kept += 1
            if n_front < front.shape[0]:
                for unit in range(n_units):
                    front[n_front, unit] = rows[choice, unit]
                n_front += 1
    return is_kept
