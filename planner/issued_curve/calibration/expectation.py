"""Whether a trial batch grows as earlier batches led one to expect: a band for a new batch, and a verdict.

Strengths are compared as logarithms at equal ages, standard-cured. A new batch departs from the mean of B earlier
ones with ``sd sqrt(1 + 1/B)``, Student's t with B - 1 degrees of freedom. One test for each age and one for the mean
mean share 5 % (Bonferroni).
"""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import nctdtrinc, stdtrit

from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.terms.arrays import FloatArray
from planner.terms.records import Break

FEWEST_TO_TELL: Final = 6  # earlier batches below which a stranger cannot be told
FEWEST_FOR_BAND: Final = 3
BAND: Final = 0.95  # share of new batches inside it at one age
SHARED: Final = 0.05  # chance that a batch like the others is called a stranger
NOTICED: Final = 0.90


class Likeness(enum.Enum):
    """What the earlier batches say of this one."""

    AS_EXPECTED = "as expected"
    STRANGER = "stranger"
    CANNOT_BE_TOLD = "cannot be told"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedMean:
    """One age of the trial batch beside the earlier batches."""

    age_h: float
    maturity_h: float  # of the trial batch [h at the reference temperature]
    trial_mpa: float
    n_batches: int  # earlier ones broken at this age
    middle_mpa: float
    low_mpa: float  # 95 of 100 new batches lie between
    high_mpa: float
    t: float  # departure in standard deviations of a new batch; below 0 where it is weaker


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """A trial batch beside the earlier ones."""

    likeness: Likeness
    ages: tuple[ExpectedMean, ...]  # those that three earlier batches or more were broken at
    mean_departure: float | None  # mean departure over the common ages, relative; None: no common ages
    mean_departure_t: float | None
    t_limit: float | None  # departures beyond it make a stranger
    noticed_deficit: float | None  # a lasting weakness that is noticed 9 times in 10, relative


def expectation_of(means: BatchMeans, earlier: Sequence[Break]) -> Expectation:
    """Compare the means of a trial batch with the standard-cured breaks of earlier batches.

    Parameters
    ----------
    means
        Of the trial batch.
    earlier
        Breaks of other batches; those of the same name and those not standard-cured are left out.
    """
    logs = _log_means(means.batch, earlier)
    ages = [
        _expected(place, means, [log[age] for log in logs.values() if age in log])
        for place, age in enumerate(means.age_h.tolist())
        if sum(age in log for log in logs.values()) >= FEWEST_FOR_BAND
    ]
    common = [item.age_h for item in ages]
    full = [log for log in logs.values() if common and all(age in log for age in common)]
    if len(full) < FEWEST_FOR_BAND:
        return Expectation(
            likeness=Likeness.CANNOT_BE_TOLD,
            ages=tuple(ages),
            mean_departure=None,
            mean_departure_t=None,
            t_limit=None,
            noticed_deficit=None,
        )
    return _judged(ages, np.array([[log[age] for age in common] for log in full]))


def strangers_among(breaks: Sequence[Break], ages_h: Sequence[float]) -> dict[str, bool] | None:
    """Each batch held against all others as a trial batch would be: whether it is taken for a stranger.

    Parameters
    ----------
    breaks
        Of all batches; those not standard-cured are left out.
    ages_h
        Of the schedule.

    Returns
    -------
    dict or None
        By batch; None where so few batches cannot tell of any.
    """
    logs = _log_means("", breaks)
    found = {}
    for batch, own in logs.items():
        broken = np.array([age for age in ages_h if age in own])
        if not broken.size:
            continue
        means = BatchMeans(
            batch=batch,
            age_h=broken,
            maturity_h=broken,
            mean_mpa=np.exp([own[age] for age in broken.tolist()]),
            n_specimens=np.ones(broken.size),
            cv=np.zeros(broken.size),
        )
        likeness = expectation_of(means, breaks).likeness
        if likeness is not Likeness.CANNOT_BE_TOLD:
            found[batch] = likeness is Likeness.STRANGER
    return found or None


def _judged(ages: list[ExpectedMean], logs: FloatArray) -> Expectation:
    n_batches = len(logs)
    mean_logs = logs.mean(axis=1)
    own = float(np.mean([np.log(item.trial_mpa) for item in ages]))
    error = float(mean_logs.std(ddof=1) * np.sqrt(1.0 + 1.0 / n_batches))
    mean_departure = own - float(mean_logs.mean())
    mean_departure_t = (
        mean_departure / error if error > 0 else float(np.copysign(np.inf, mean_departure)) if mean_departure else 0.0
    )
    limit = float(stdtrit(n_batches - 1, 1.0 - SHARED / (len(ages) + 1) / 2.0))
    likeness = Likeness.CANNOT_BE_TOLD
    if n_batches >= FEWEST_TO_TELL:
        farthest = max(abs(mean_departure_t), *(abs(item.t) for item in ages))
        likeness = Likeness.STRANGER if farthest > limit else Likeness.AS_EXPECTED
    return Expectation(
        likeness=likeness,
        ages=tuple(ages),
        mean_departure=float(np.expm1(mean_departure)),
        mean_departure_t=mean_departure_t,
        t_limit=limit,
        noticed_deficit=float(-np.expm1(-error * nctdtrinc(n_batches - 1, 1.0 - NOTICED, limit))),
    )


def _log_means(batch: str, earlier: Sequence[Break]) -> dict[str, dict[float, float]]:
    cells: dict[str, dict[float, list[float]]] = defaultdict(lambda: defaultdict(list))
    for item in earlier:
        if item.curing == "standard" and item.batch != batch:
            cells[item.batch][item.age_h].append(item.strength_mpa)
    return {
        name: {age: float(np.log(np.mean(strengths))) for age, strengths in by_age.items()}
        for name, by_age in cells.items()
    }


def _expected(place: int, means: BatchMeans, logs: list[float]) -> ExpectedMean:
    middle = float(np.mean(logs))
    error = float(np.std(logs, ddof=1) * np.sqrt(1.0 + 1.0 / len(logs)))
    reach = error * float(stdtrit(len(logs) - 1, 0.5 + BAND / 2.0))
    departure = float(np.log(means.mean_mpa[place])) - middle
    return ExpectedMean(
        age_h=float(means.age_h[place]),
        maturity_h=float(means.maturity_h[place]),
        trial_mpa=float(means.mean_mpa[place]),
        n_batches=len(logs),
        middle_mpa=float(np.exp(middle)),
        low_mpa=float(np.exp(middle - reach)),
        high_mpa=float(np.exp(middle + reach)),
        t=departure / error if error > 0 else 0.0 if departure == 0 else float(np.copysign(np.inf, departure)),
    )
