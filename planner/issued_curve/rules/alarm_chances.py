"""How likely the lasting rule of the site checks is to raise an alarm, and how soon.

Checks of one curve share its offset, so their z are not independent: ``z_i = sqrt(r) u + sqrt(1 - r) e_i`` with u and
e_i standard normal and r the shared part of the variance. Given u the checks are independent and a Markov chain says
how many curves survive (:mod:`.alarm_chain`); u is integrated by the trapezoidal rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from planner.issued_curve.rules.alarm_chain import mean_run_length, survivals

REACH = 6.0  # standard deviations of the shared offset; beyond it lie 2e-9 of all curves
N_OFFSETS = 61  # a fifth of a standard deviation apart; twice as many change the eighth digit
SHOWN_CHECKS = (20, 40, 300)
DIGITS = 9  # that stand; the last bits of a product of matrices depend on the threads that made it


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmChances:
    """What the lasting rule does with the checks of one curve."""

    n_checks: tuple[int, ...]
    sound: tuple[float, ...]  # chance of an alarm within so many checks although nothing has changed
    dropped: tuple[float, ...]  # the same where every later pour is one standard deviation of a check weaker
    mean_to_find_drop: float  # checks until such a drop is found, for a curve without an offset of its own
    mean_to_false_alarm: float  # checks until a false alarm, for a curve without an offset of its own


def alarm_chances(*, shared: float, n_checks: tuple[int, ...] = SHOWN_CHECKS) -> AlarmChances:
    """Chances of an alarm within the first checks of one fixed curve.

    Parameters
    ----------
    shared
        Part of the variance of z that all checks of one curve have in common; see :func:`shared_part`.
    n_checks
        Numbers of checks, each 1 or more.

    Raises
    ------
    ValueError
        Where the shared part is not from 0 to below 1, or a number of checks is below 1.
    """
    if not 0.0 <= shared < 1.0:
        raise ValueError(f"The shared part of the variance must be from 0 to below 1, given {shared}.")
    if not n_checks or min(n_checks) < 1:
        raise ValueError(f"Numbers of checks must be 1 or more, given {n_checks}.")
    return AlarmChances(
        n_checks=n_checks,
        sound=_chances_within(n_checks, shared=shared, drop=0.0),
        dropped=_chances_within(n_checks, shared=shared, drop=1.0),
        mean_to_find_drop=round(mean_run_length(shift=1.0), DIGITS),
        mean_to_false_alarm=round(mean_run_length(shift=0.0), DIGITS),
    )


def shared_part(*, later_rms: float, n_curves: int, within_test_cv: float, n_companions: int) -> float:
    """Part of the variance of a check that all checks of one curve share: the offset of the curve itself.

    A later pour departs from the mean of m trial curves with ``tau^2 (1 + 1/m)``; the ``1/m`` is the curve's own and
    the same for every pour, so ``1 / (m + 1)`` of the later pour's variance is shared.

    Parameters
    ----------
    later_rms
        RMS error of a reading on a later pour, relative, above 0.
    n_curves
        Trial batches whose mean is the curve; the number of earlier batches where it is their mean.
    within_test_cv
        Scatter of single companions, relative.
    n_companions
        Broken for one check.
    """
    if n_curves < 1 or n_companions < 1 or not later_rms > 0 or within_test_cv < 0:
        raise ValueError(
            "The shared part needs a later-pour error above 0, a scatter not below 0, and one curve and one companion "
            f"or more, given {later_rms}, {within_test_cv}, {n_curves} and {n_companions}."
        )
    return later_rms**2 / (n_curves + 1) / (later_rms**2 + within_test_cv**2 / n_companions)


def checks_to_find(drop: float, *, chance: float = 0.9) -> int | None:
    """Checks within which a lasting drop is found with this chance, for a curve without an offset of its own.

    Parameters
    ----------
    drop
        In standard deviations of a check.

    Returns
    -------
    None where that takes more than the longest row of checks that is told.
    """
    for n_checks, survived in enumerate(survivals(SHOWN_CHECKS[-1], shifts=np.array([drop]), scale=1.0), start=1):
        if 1.0 - survived[0] >= chance:
            return n_checks
    return None


def chance_within(n_checks: int, *, shared: float, drop: float = 0.0) -> float:
    """Chance that the lasting rule raises an alarm within the first checks of one curve.

    Parameters
    ----------
    n_checks
        Number of checks, 1 or more.
    shared
        Part of the variance of z that all checks share, from 0 to below 1.
    drop
        By how many standard deviations of z every check lies lower than the curve promises.
    """
    return _chances_within((n_checks,), shared=shared, drop=drop)[0]


@cache
def _chances_within(n_checks: tuple[int, ...], *, shared: float, drop: float) -> tuple[float, ...]:
    """The same for several numbers of checks, from one row of checks."""
    offsets = np.linspace(-REACH, REACH, N_OFFSETS) if shared else np.zeros(1)
    shifts = drop + np.sqrt(shared) * offsets
    survived = list(survivals(max(n_checks), shifts=shifts, scale=float(np.sqrt(1.0 - shared))))
    survives = np.average(survived, axis=1, weights=np.exp(-0.5 * offsets**2))
    return tuple(round(float(1.0 - survives[n - 1]), DIGITS) for n in n_checks)
