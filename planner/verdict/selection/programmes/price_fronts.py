"""Programmes that no other of the same price beats: whatever is beaten at all is beaten by one of these.

Programmes of one price (money, specimens, attendances, last age) differ in three figures alone: the judged error, its
worst batch and the share over-predicted beyond the tolerance. Few of them are best in any mixture of three figures that
go together, so that a question put to all programmes is answered by some thousands of them, and exactly.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.compiled import njit
from planner.resampling.errors.later_pours.judged_programmes import Programmes
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray


def price_fronts(
    judged: Programmes,
    columns: Sequence[int],
    is_allowed: BoolArray,
    price: Sequence[FloatArray | IntArray],
    score: FloatArray,
) -> tuple[IntArray, ...]:
    """Schedules on the front of each number of trial batches, as rising positions.

    Of programmes alike in all figures and in price the one of lowest score stays, of equals the first.

    Parameters
    ----------
    columns
        Columns of `judged`, one a number of trial batches.
    is_allowed
        Whether each programme is within the limits, ``(n_choices, n_columns)``.
    price
        Money, specimens, attendances and last age of one trial batch, each ``(n_choices,)``.
    score
        Mean own-batch loss, ``(n_choices,)``.
    """
    of_price = _alike(price)
    found = []
    for place, column in enumerate(columns):
        figures = (judged.rms, judged.worst, judged.over_beyond)
        rms, worst, over = (np.ascontiguousarray(figure[:, column]) for figure in figures)  # compiled for one layout
        is_on = np.asarray(is_allowed[:, place] & np.isfinite(rms))
        thin(of_price, int(of_price.max(initial=0)) + 1, rms, worst, over, score, is_on)
        found.append(np.flatnonzero(is_on))
    return tuple(found)


def _alike(keys: Sequence[AnyArray]) -> IntArray:
    """A number for each different combination of keys."""
    code = np.zeros(len(keys[0]), dtype=np.int64)
    for key in keys:
        values, at = np.unique(key, return_inverse=True)
        code = code * len(values) + at.reshape(-1)
        _, code = np.unique(code, return_inverse=True)
    return np.asarray(code.reshape(-1))


@njit(cache=True, nogil=True)
def thin(of_price, n_prices, rms, worst, over, score, is_on):  # type: ignore[no-untyped-def]
    """Turn off, in place, every programme that is on but that another of its price beats.

    ``n_prices`` is one more than the highest of `of_price`; the other arrays are ``(n_choices,)``.
    """
    n_choices = len(of_price)
    first = np.full(n_prices, -1, dtype=np.int64)
    following = np.full(n_choices, -1, dtype=np.int64)
    for i in range(n_choices):
        if not is_on[i]:
            continue
        before, at = -1, first[of_price[i]]
        while at >= 0:
            after = following[at]
            is_beaten = rms[at] <= rms[i] and worst[at] <= worst[i] and over[at] <= over[i]
            is_beating = rms[i] <= rms[at] and worst[i] <= worst[at] and over[i] <= over[at]
            if is_beaten and is_beating:  # alike
                is_beaten = score[at] <= score[i]
                is_beating = not is_beaten
            if is_beaten:
                is_on[i] = False
                if before >= 0:  # what beats one beats many: it is asked first
                    following[before] = after
                    following[at] = first[of_price[i]]
                    first[of_price[i]] = at
                break
            if is_beating:
                is_on[at] = False
                if before >= 0:
                    following[before] = after
                else:
                    first[of_price[i]] = after
            else:
                before = at
            at = after
        if is_on[i]:
            following[i] = first[of_price[i]]
            first[of_price[i]] = i
