"""Error against specimens and money, what the next specimen buys, and what another schedule would need."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from planner.choices import ChoiceSet, choice_set
from planner.resampling import Scoring
from planner.terms.arrays import FloatArray
from planner.terms.plan.money_limit import keeps_money
from planner.terms.results.answers import Equality, PricePoint, SpecimenGain
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.statistics.isotonic import falling
from planner.verdict.validation.restricted import FoldTable, Restricted, fold_table, restrict
from planner.verdict.validation.restricted_error import Figures, figures_at, later_verdict
from planner.verdict.wording.rival_words import equality_words, rival_name

MOST_POINTS = 16  # of a frontier
MOST_TIMES = 10  # no schedule is grown beyond this many times its specimens: nobody would cast them
SAME = 1e-9


def frontier_along(
    table: FoldTable, amount: FloatArray, *, cost: FloatArray | None, most_points: int = MOST_POINTS
) -> tuple[PricePoint, ...]:
    """The lowest error under every limit on an amount, judged on batches left out.

    Parameters
    ----------
    amount
        What is limited of every schedule, specimens or money, ``(n_choices,)``.
    cost
        Of every schedule, ``(n_choices,)``.
    """
    limits = np.unique(amount[np.isfinite(amount)])
    if len(limits) > most_points:
        wanted = np.linspace(limits[0], limits[-1], most_points)
        limits = np.unique(limits[np.searchsorted(limits, wanted - SAME)])
    points: list[tuple[float, Restricted]] = []
    for limit in limits:
        found = restrict(table, np.asarray(amount <= limit))
        if found is not None and not (points and _is_alike(table, points[-1][1], found)):
            points.append((float(limit), found))
    if not points:
        return ()
    owns = [figures_at(table.scoring, found.at_checks) for _, found in points]
    smooth = np.sqrt(falling(np.array([own.rms**2 for own in owns])))
    return tuple(
        _point(table, found, own, limit=limit, cost=cost, rms=float(rms))
        for (limit, found), own, rms in zip(points, owns, smooth, strict=True)
    )


def _is_alike(table: FoldTable, one: Restricted, other: Restricted) -> bool:
    return table.choices.schedule(one.which) == table.choices.schedule(other.which)


def _point(
    table: FoldTable, found: Restricted, own: Figures, *, limit: float, cost: FloatArray | None, rms: float
) -> PricePoint:
    later = later_verdict(table, found, own)
    schedule, joint = table.choices.schedule(found.which), table.joints[found.joint]
    return PricePoint(
        limit=limit,
        n_specimens=schedule.n_specimens,
        cost=None if cost is None else float(cost[found.which]),
        schedule=schedule,
        curve=joint.curve,
        weighting=joint.weighting,
        maturity=joint.maturity,
        rms=rms,
        rms_unsmoothed=own.rms,
        within_tolerance=own.within_tolerance,
        later_rms=None if later is None else later.rms,
    )


def specimen_steps(
    table: FoldTable,
    recommended: RatedChoice,
    step: int,
    *,
    rms: float,
    per_age: tuple[int, int],
    most_specimens: int,
    most_cost: float | None = None,
    cost_of: Callable[[Schedule], float | None] = lambda _: None,
) -> tuple[SpecimenGain, ...]:
    """What one specimen more, or one less, at each age of the recommended schedule does.

    One more at an age with n takes ``c (1/n - 1/(n+1))`` off the mean square, c the variance a single
    specimen there would add (first order in the scatter); one less puts ``c (1/(n-1) - 1/n)`` on it. The last
    specimen of an age is never taken away.

    Parameters
    ----------
    step
        1: one more, -1: one less.
    rms
        Nested error of the recommended rule, own batch.
    per_age, most_specimens, most_cost
        Limits of the plan: fewest and most at an age, specimens of one trial batch, money of the whole calibration.
    cost_of
        What the calibration costs with a schedule, all trial batches; None without prices.
    """
    schedule = recommended.schedule
    cost_now = cost_of(schedule)
    single = single_variances(table, recommended)
    gains = []
    for age_h, count, variance in zip(schedule.ages_h, schedule.specimens, single.tolist(), strict=True):
        then = count + step
        if then < 1:
            continue
        spared = variance * (1.0 / count - 1.0 / then)
        counts = zip(schedule.ages_h, schedule.specimens, strict=True)
        cost_then = cost_of(Schedule(schedule.ages_h, tuple(then if age == age_h else n for age, n in counts)))
        gains.append(
            SpecimenGain(
                age_h=age_h,
                n_now=count,
                rms_now=rms,
                rms_then=math.sqrt(max(rms**2 - spared, 0.0)),
                is_allowed=per_age[0] <= then <= per_age[1]
                and schedule.n_specimens + step <= most_specimens
                and keeps_money(cost_then, most_cost),
                cost=None if cost_now is None or cost_then is None else cost_then - cost_now,
            )
        )
    return tuple(gains)


def single_variances(table: FoldTable, choice: RatedChoice) -> FloatArray:
    """Variance that a single specimen at each age would add, mean over the units, ``(n_ages,)``."""
    one = alone(table, choice.schedule)
    joint = joint_of(table, choice)
    at = FoldTable(
        table.cells,
        table.scoring,
        one,
        table.joints,
        table.loss[:, :1],
        table.joint[:, :1],
        table.left_out[:, :1],
    ).at_checks(0, joint)
    by_unit = table.scoring.by_unit(np.where(np.isfinite(at.contribution), at.contribution, 0.0).T)
    held = _held_units(table.scoring, at.error)
    return np.asarray(by_unit[:, held].mean(axis=1))


def joint_of(table: FoldTable, choice: RatedChoice) -> int:
    """Place of a choice's curve, weighting and maturity setting."""
    key = (choice.curve, choice.weighting, choice.maturity)
    return next(j for j, known in enumerate(table.joints) if (known.curve, known.weighting, known.maturity) == key)


def _held_units(scoring: Scoring, error: FloatArray) -> FloatArray:
    return np.unique(scoring.unit[np.isfinite(error)])


def equality(
    table: FoldTable,
    other: RatedChoice,
    recommended: RatedChoice,
    *,
    rms: float,
    points: tuple[PricePoint, ...],
) -> Equality | None:
    """How many specimens at its own ages another schedule needs to err no more than the recommended one.

    Its error but for the scatter of its specimens stays, whatever their number. None where it cannot be
    judged on two batches.

    Parameters
    ----------
    rms
        Nested error of the recommended rule, own batch.
    points
        Frontier by specimens, for how few specimens equal the other schedule.
    """
    one = fold_table(table.cells, alone(table, other.schedule), table.joints, table.scoring)
    found = restrict(one, np.ones(1, dtype=bool))
    if found is None:
        return None
    own = figures_at(table.scoring, found.at_checks)
    needed: Schedule | None = None
    room = rms**2 - (own.level - own.variance)
    if own.rms <= rms:
        needed = other.schedule
    elif room > 0 and own.variance / room <= MOST_TIMES:
        needed = _grown(other.schedule, own.variance / room)
    return Equality(
        label=other.label,
        schedule=other.schedule,
        rms=own.rms,
        rms_recommended=rms,
        n_specimens_needed=None if needed is None else needed.n_specimens,
        schedule_needed=needed,
        sentence=equality_words(
            rival_name(other.label),
            (other.schedule, own.rms),
            (recommended.schedule, rms),
            needed,
            next((point.n_specimens for point in points if point.rms <= own.rms), None),
        ),
    )


def alone(table: FoldTable, schedule: Schedule) -> ChoiceSet:
    """One schedule over the ages of the records."""
    ages = table.cells.ages_h
    positions = [int(np.argmin(np.abs(ages - age))) for age in schedule.ages_h]
    return choice_set(ages, [(positions, schedule.specimens)])


def _grown(schedule: Schedule, factor: float) -> Schedule:
    return Schedule(schedule.ages_h, tuple(math.ceil(count * factor - SAME) for count in schedule.specimens))
