"""True later-pour error of what the planner recommends, beside the earlier rule and the best in hindsight.

The earlier rule took the cheapest schedule that ties with the best on the trial batch's own concrete, with one
trial batch. Programmes of the same records are chosen with one trial batch, and with one to three for the
same kind of money; each is judged on fresh batches of the same law.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.choices import choice_set
from planner.mixed_model import CellMeans, PriorBatches, estimate_growth_prior, read_pour
from planner.population import basis_of
from planner.steps.allowed_choices import rank_prices
from planner.steps.searching import Work, search_of
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Budget, Costs, CurveName, Plan, ProgrammeSettings, Settings, Weighting
from planner.terms.schedule import Schedule
from planner.verdict.selection.programmes.programme import Taken
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from tests.statistics.growth import AGES_H, MOST_AGES, N_REPLICATES, TARGET_H, Law, programme, within_test_cv
from tests.statistics.later_truth import COUNTS, TRIAL_BATCHES, Hindsight, hindsight_of, judge_of, later_rms

COSTS = Costs(
    currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0, visit=90.0, visit_outside_hours=240.0, fixed=400.0
)  # fmt: skip
BUDGET_OF_ONE = MOST_AGES * max(COUNTS)
N_SEARCHED = 300  # fresh batches that hindsight chooses curves on
N_READ = 100  # readings from records and fresh trial batches
COMPARED_SPECIMENS = (9, 12, 18)  # at which ways of ranking are compared


class Choice(NamedTuple):
    """A joint choice, to be held against the truth."""

    schedule: Schedule
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting


@dataclass(frozen=True, slots=True)
class Programme:
    """One programme chosen from one set of records."""

    n_specimens: int  # of all its trial batches
    n_trial_batches: int
    cost: float
    rms: float  # true, on later pours
    stated_rms: float  # what the planner says of it


@dataclass(frozen=True, slots=True)
class LaterRegret:
    """What one set of records led to."""

    earlier: Programme  # cheapest that ties on the own batch, one trial batch
    one: Programme  # one trial batch
    several: Programme  # one to three trial batches
    best_for_one: float  # lowest true error in hindsight with one trial batch
    best_for_money: float  # in hindsight, for the money of `several`
    best_of_good_curves: float  # the same among programmes whose curves read their own concrete well
    with_records: float  # true error of `several` where its trial batches are read together with the records
    ranked: dict[str, FloatArray]  # true error by way of ranking, at `COMPARED_SPECIMENS`

    @property
    def ratio(self) -> float:
        """True error over that of the earlier rule."""
        return self.one.rms / self.earlier.rms

    @property
    def saved(self) -> float:
        """Share of the earlier rule's specimens that is saved."""
        return 1.0 - self.one.n_specimens / self.earlier.n_specimens

    @property
    def regret_of_good_curves(self) -> float:
        """The same against programmes whose curves read their own concrete well."""
        return self.several.rms / self.best_of_good_curves

    @property
    def regret_with_records(self) -> float:
        """The same where the trial batches of `several` are read together with the records."""
        return self.with_records / self.best_for_money

    @property
    def regret(self) -> float:
        """True error of `several` over the best in hindsight for the same money."""
        return self.several.rms / self.best_for_money


def priced_programme(law: Law, n_batches: int, seed: int) -> Plan:
    """The programme of the study, with counts to choose, prices, and money for three trial batches."""
    plan = programme(law, n_batches, seed)
    settings = plan.settings
    return replace(
        plan,
        settings=replace(
            settings,
            choices=replace(settings.choices, specimens_per_age=(min(COUNTS), max(COUNTS))),
            budget=Budget(specimens=BUDGET_OF_ONE * max(TRIAL_BATCHES)),
            programme=ProgrammeSettings(instrumented=0, trial_batches=1, most_trial_batches=max(TRIAL_BATCHES)),
            costs=COSTS,
        ),
    )


@cache
def costs_of(hindsight: Hindsight) -> FloatArray:
    """Cost of every programme in hindsight, ``(n_trial_batches, n_schedules)``."""
    ages_h = np.array(AGES_H)
    choices = choice_set(
        ages_h, [(np.searchsorted(ages_h, s.ages_h).tolist(), s.specimens) for s in hindsight.schedules]
    )
    settings = priced_settings()
    one = rank_prices(choices, settings).cost
    assert one is not None
    return np.array([one * m for m in TRIAL_BATCHES])


@cache
def priced_settings() -> Settings:
    """Settings of any programme of the study: prices do not depend on the records."""
    from tests.statistics.growth import LAWS

    return priced_programme(LAWS[0], 3, 0).settings


def later_regret_of(law: Law, n_batches: int, seed: int, *, n_fresh: int) -> LaterRegret:
    """Choose from one drawn set of records, and judge on fresh batches."""
    plan = priced_programme(law, n_batches, seed)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    assert search.programmes is not None
    several, one = search.programmes, with_one(search.programmes)
    pick = search.rule.pick(search.rule.training(np.ones(n_batches, dtype=bool)))
    assert pick is not None
    matrix = search.matrix
    earlier = Taken(matrix.choice_of(pick.chosen), int(matrix.row_joint[pick.chosen]), 1)
    taken = [earlier]
    for rule in (one, several):
        chosen = rule.choose()
        assert chosen is not None
        taken.append(chosen.taken)
    found = [_told(law, several, item, n_fresh) for item in taken]
    hindsight = hindsight_of(law, N_SEARCHED, n_fresh)
    costs = costs_of(hindsight)
    is_one = np.arange(len(TRIAL_BATCHES))[:, None] == 0
    return LaterRegret(
        earlier=found[0],
        one=found[1],
        several=found[2],
        best_for_one=hindsight.best_within(np.broadcast_to(is_one, costs.shape)),
        best_for_money=hindsight.best_within(costs <= found[2].cost),
        best_of_good_curves=hindsight.good_curves.best_within(costs <= found[2].cost),
        with_records=_rms_with_records(
            law, plan, matrix.choices.schedule(taken[2].which), taken[2].n_trial_batches, n_fresh
        ),
        ranked={label: _ranked(law, several, by, n_fresh) for label, by in ranking_keys(several).items()},
    )


def _rms_with_records(law: Law, plan: Plan, schedule: Schedule, n_trial_batches: int, n_fresh: int) -> float:
    """True error of reading every pour from the earlier batches and the trial batches in one model."""
    cells = pd.DataFrame([(item.batch, item.age_h, item.strength_mpa) for item in plan.records.breaks])
    means = cells.groupby([0, 1])[2].mean().unstack()
    ages_h = means.columns.to_numpy()
    prior = estimate_growth_prior(
        PriorBatches(
            mean_mpa=means.to_numpy(), n_specimens=np.full(means.shape, N_REPLICATES),
            maturity_h=np.broadcast_to(ages_h, means.shape), cv=within_test_cv(ages_h),
        )
    )  # fmt: skip
    cast, pours = judge_of(law, n_fresh)
    at = [AGES_H.index(age_h) for age_h in schedule.ages_h]
    count = [cast.counts.index(n) for n in schedule.specimens]
    trials = [
        CellMeans(
            maturity_h=np.array(schedule.ages_h), n_specimens=np.array(schedule.specimens, dtype=np.float64),
            mean_mpa=cast.mean_mpa[batch, at, count],
        )
        for batch in range(N_READ * n_trial_batches)
    ]  # fmt: skip
    read_mpa = np.exp([
        read_pour(prior, [TARGET_H], trials=trials[first : first + n_trial_batches]).log_mpa[0]
        for first in range(0, len(trials), n_trial_batches)
    ])  # fmt: skip
    return float(pours.rms(read_mpa.mean(keepdims=True), read_mpa.var(ddof=1, keepdims=True), 1)[0])


def with_one(rule: ProgrammeRule) -> ProgrammeRule:
    """The same rule where one trial batch is cast."""
    return replace(rule, limits=replace(rule.limits, trial_batches=(1,), most_specimens=BUDGET_OF_ONE))


def ranking_keys(rule: ProgrammeRule) -> dict[str, FloatArray]:
    """Ways of ranking every schedule: own-batch loss, judged error of one trial batch, their sum."""
    own = rule.rule.matrix.score
    later = rule.everything.rms[:, 0].astype(np.float64) ** 2
    return {"own batch": own, "later pour": later, "both": own + later}


def _ranked(law: Law, rule: ProgrammeRule, key: FloatArray, n_fresh: int) -> FloatArray:
    """True later-pour error of the first by some key, at several numbers of specimens, one trial batch."""
    found = []
    for most in COMPARED_SPECIMENS:
        which = int(np.argmin(np.where(rule.limits.n_specimens <= most, key, np.inf)))
        found.append(_told(law, rule, Taken(which, int(rule.rule.matrix.best_joint[which]), 1), n_fresh).rms)
    return np.array(found)


def _told(law: Law, rule: ProgrammeRule, taken: Taken, n_fresh: int) -> Programme:
    matrix = rule.rule.matrix
    joint = matrix.joints[taken.joint]
    choice = Choice(matrix.choices.schedule(taken.which), joint.curve, joint.weighting, joint.maturity)
    cost = rule.limits.cost(taken.which, taken.n_trial_batches)
    assert cost is not None
    column = rule.everything.trial_batches.index(taken.n_trial_batches)
    return Programme(
        n_specimens=choice.schedule.n_specimens * taken.n_trial_batches,
        n_trial_batches=taken.n_trial_batches,
        cost=float(cost),
        rms=later_rms(law, choice, taken.n_trial_batches, n_fresh=n_fresh),
        stated_rms=float(rule.everything.rms[taken.which, column]),
    )


def later_quantiles(values: Sequence[float]) -> tuple[float, float]:
    """Median and 90th percentile."""
    middle, high = np.quantile(values, [0.5, 0.9])
    return float(middle), float(high)
