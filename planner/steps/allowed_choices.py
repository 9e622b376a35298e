"""What may be chosen: the schedules that the laboratory, the budget and the records allow, and their prices."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.choices import ChoiceSet, enumerate_choices, offered_ages
from planner.evidence import Cells, tabulate
from planner.laboratory.casting.casting_hours import ScheduleCosts, castings_costs, cost_once
from planner.resampling.threads import in_order
from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.terms.labels import age_label, money_label
from planner.terms.plan.batch_costs import cost_of_batches
from planner.terms.plan.machine_time import most_specimens
from planner.terms.plan.money_limit import is_within_money, least_limit
from planner.terms.plan.settings import Budget, Plan, ProgrammeSettings, Settings
from planner.terms.problems import NoScheduleError
from planner.verdict.selection.rule import cheapness_tiers

NO_LIMIT = 1_000_000  # specimens at an age
PRICED_AT_ONCE = 250_000  # schedules: 20 MB of specimens by age


def offered_choices(plan: Plan, cells: Cells | None = None) -> tuple[Cells, IntArray, ChoiceSet]:
    """Cells, the ages that may be broken, and every schedule that the limits allow, money included.

    Parameters
    ----------
    cells
        What is judged on; the records themselves where None.

    Raises
    ------
    InputError, NoScheduleError
        Where the records cannot be used, or no schedule satisfies the limits.
    """
    settings = plan.settings
    cells = tabulate(plan.records, settings) if cells is None else cells
    offered = offered_ages(cells.ages_h, cells.is_candidate, cells.typical_mpa(), settings.choices, settings.budget)
    _check_ready_by(cells, offered, settings)
    choices = enumerate_choices(cells.ages_h, offered, settings.choices, of_one_batch(settings))
    return cells, offered, affordable(breakable(choices, settings), settings)


def _check_ready_by(cells: Cells, offered: IntArray, settings: Settings) -> None:
    """Complain where the curve cannot be there in time, with the least that would do."""
    budget, limits = settings.budget, settings.choices
    if budget.ready_by_h is None:
        return
    free = replace(budget, latest_age_h=budget.latest_age_asked_h)
    at_all = cells.ages_h[offered_ages(cells.ages_h, cells.is_candidate, cells.typical_mpa(), limits, free)]
    if len(at_all) < limits.fewest_ages:
        return
    last_h = max(float(at_all[limits.fewest_ages - 1]), *limits.required_ages_h, 0.0)
    if len(offered) >= limits.fewest_ages and last_h <= (budget.latest_age_h or np.inf):
        return
    least_h = last_h + budget.between_castings_h * (max(_programme(settings).trial_batches, 1) - 1)
    raise NoScheduleError(
        f"No calibration is ready within {age_label(budget.ready_by_h)}: {limits.fewest_ages} ages"
        f"{' with the required ones' if limits.required_ages_h else ''} take {age_label(least_h)} from the first "
        f'casting. Set [budget] ready_by to "{age_label(least_h)}" or later, or lower fewest_ages.'
    )


def breakable(choices: ChoiceSet, settings: Settings) -> ChoiceSet:
    """The schedules whose specimens can all be broken within the permitted windows of their ages.

    Raises
    ------
    NoScheduleError
        Where none can.
    """
    laboratory = settings.laboratory_taken
    most = [most_specimens(float(age_h), laboratory) for age_h in choices.ages_h]
    limits = np.array([NO_LIMIT if count is None else count for count in most])
    if (limits >= choices.patterns.max(initial=0)).all():
        return choices
    is_kept = np.concatenate(
        [(some.specimens_by_age() <= limits).all(axis=1) for _, some in choices.in_blocks(PRICED_AT_ONCE)]
    )
    if is_kept.all():
        return choices
    if not is_kept.any():
        raise NoScheduleError(
            f"No schedule can be broken within {laboratory.age_tolerances} at {laboratory.minutes_per_break:g} minutes "
            f"a break on {laboratory.machines} testing machine{'s' if laboratory.machines > 1 else ''}. State shorter "
            "minutes_per_break, more machines or wider age_tolerances in [laboratory], or offer later ages."
        )
    return choices.part(is_kept)


def of_one_batch(settings: Settings) -> Budget:
    """The budget of one trial batch where as few are cast as the plan allows: it holds for all of them together.

    Raises
    ------
    NoScheduleError
        Where it does not hold the fewest specimens times the fewest trial batches.
    """
    budget, limits, fewest = settings.budget, settings.choices, _programme(settings).trial_batches
    needed = limits.fewest_ages * limits.specimens_per_age[0]
    if fewest > 1 and budget.specimens < fewest * needed:
        raise NoScheduleError(
            f"{fewest} trial batches with {limits.fewest_ages} ages of {limits.specimens_per_age[0]} specimens need "
            f"{fewest * needed} specimens, but [budget] specimens is {budget.specimens} for the whole calibration. "
            f"Raise it to {fewest * needed} or more, or lower trial_batches, fewest_ages or specimens_per_age."
        )
    return replace(budget, specimens=budget.specimens // fewest)


@dataclass(frozen=True, slots=True, eq=False)
class Prices:
    """What every schedule asks of the laboratory, at the castings asked for or each at its own cheapest hour."""

    cost: FloatArray | None  # with the fewest trial batches allowed; None without [costs], (n_choices,)
    n_visits: IntArray  # of one trial batch, (n_choices,)
    n_specimens: IntArray  # of one trial batch, (n_choices,)
    last_age_h: FloatArray  # (n_choices,)
    batch_cost: FloatArray | None = None  # of one trial batch at each casting asked for, (n_castings, n_choices)
    cost_once: float = 0.0  # of a calibration, however many trial batches it has

    @property
    def keys(self) -> tuple[FloatArray | IntArray, ...]:
        """What is spent, what counts most first: money where prices are given, specimens, visits, the last age."""
        keys = (self.n_specimens, self.n_visits, self.last_age_h)
        return keys if self.cost is None else (self.cost, *keys)

    def cost_of(self, n_trial_batches: int) -> FloatArray | None:
        """Of whole calibrations with so many trial batches, ``(n_choices,)``; None without [costs]."""
        if self.batch_cost is None:
            return None
        return cost_of_batches(self.batch_cost, np.arange(len(self.n_specimens)), n_trial_batches) + self.cost_once


def price_tiers(choices: ChoiceSet, settings: Settings, n_workers: int = 1) -> AnyArray:
    """Cheapness of schedules, lower is cheaper, equals alike, ``(n_choices,)``; worked out block by block."""

    def rank(some: ChoiceSet) -> tuple[IntArray, FloatArray]:
        keys = rank_prices(some, settings).keys
        tier = cheapness_tiers(*keys)
        _, first = np.unique(tier, return_index=True)
        return tier, np.stack([key[first] for key in keys], axis=1)

    spans, blocks = zip(*choices.in_blocks(PRICED_AT_ONCE), strict=True)
    tables: list[FloatArray] = []
    at = np.empty(len(choices), dtype=np.int32)
    for span, (tier, table) in zip(spans, in_order(rank, blocks, n_workers), strict=True):
        at[span] = tier + sum(len(table) for table in tables)
        tables.append(table)
    return cheapness_tiers(*np.concatenate(tables).T).astype(np.int32)[at]


def rank_prices(choices: ChoiceSet, settings: Settings) -> Prices:
    """Price schedules: money where prices are given, specimens, visits and the last age."""
    costs = _schedule_costs(choices, settings)
    n_specimens, last_age_h = choices.n_specimens, choices.last_age_h
    if settings.costs is None:
        return Prices(None, costs.n_visits, n_specimens, last_age_h)
    return Prices(
        costs.cost,
        costs.n_visits,
        n_specimens,
        last_age_h,
        batch_cost=costs.batch_cost,
        cost_once=cost_once(settings.costs),
    )


def affordable(choices: ChoiceSet, settings: Settings) -> ChoiceSet:
    """The schedules within [budget] cost and [choices] most_visits, each at its own cheapest casting hour.

    Raises
    ------
    NoScheduleError
        Where none is; the text says what the least would be.
    """
    most_cost, most_visits = settings.budget.cost, settings.choices.most_visits
    if most_cost is None and most_visits is None:
        return choices
    costs = _schedule_costs(choices, settings)
    is_kept = costs.n_visits <= (most_visits if most_visits is not None else costs.n_visits.max())
    if not is_kept.any():
        raise NoScheduleError(
            f"Every allowed schedule needs {int(costs.n_visits.min())} visits or more, but most_visits is "
            f"{most_visits}. Raise it, or lower fewest_ages."
        )
    if most_cost is not None and settings.costs is not None:
        least = float(costs.cost[is_kept].min())
        is_kept &= is_within_money(costs.cost, most_cost)
        if not is_kept.any():
            raise NoScheduleError(
                f"The cheapest allowed schedule costs {money_label(least_limit(least))} {settings.costs.currency}, but "
                f"[budget] cost is {money_label(most_cost)}. Raise it, or lower fewest_ages or specimens_per_age."
            )
    return choices if is_kept.all() else choices.part(is_kept)


def _schedule_costs(choices: ChoiceSet, settings: Settings) -> ScheduleCosts:
    """Worked out block by block: a price depends on its own schedule alone."""
    blocks = [_block_costs(some, settings) for _, some in choices.in_blocks(PRICED_AT_ONCE)]
    return (
        blocks[0]
        if len(blocks) == 1
        else ScheduleCosts(*(np.concatenate(column, axis=-1) for column in zip(*blocks, strict=True)))
    )


def _block_costs(choices: ChoiceSet, settings: Settings) -> ScheduleCosts:
    specimens = choices.specimens_by_age()
    is_used = specimens.any(axis=0)  # records may hold more ages than can be priced; those offered never do
    specimens = specimens if is_used.all() else specimens[:, is_used]
    return castings_costs(
        specimens, tuple(float(age) for age in choices.ages_h[is_used]), settings, _programme(settings)
    )


def _programme(settings: Settings) -> ProgrammeSettings:
    return settings.programme_asked
