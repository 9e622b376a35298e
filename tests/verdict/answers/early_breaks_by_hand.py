"""Small plans with early breaks, and readings of their pours worked out by hand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np

from planner.evidence.within_test_scatter import within_test_scatter
from planner.maturity import maturity_at
from planner.mixed_model import CellMeans, GrowthPrior, PriorBatches, estimate_growth_prior, read_pour
from planner.pipeline import recommend
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.settings import Costs, MaturityGrid, Plan
from planner.terms.records import Break, Records
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommended.recommendation import Recommendation
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import draw_records
from tests.statistics.runway import opening_plan, plan_with

SETTING = MaturitySetting("equivalent age", 5000.0)
TARGETS_H = (6.0, 24.0)
AGES_H = (4.0, 6.0, 8.0, 12.0, 24.0, 72.0)
POURS = Pours(early_ages_h=(4.0, 8.0), specimens_per_age=(1, 1), most_specimens=2, number=40)
PLANS = {0: [(0, 0)], 1: [(1, 0), (0, 1)], 2: [(1, 1)]}
COSTS = Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0)


def small_plan(*, n_batches: int, is_on_site: bool, n_broken: int = 3, seed: int = 5) -> Plan:
    """A runway plan of few choices with fresh records."""
    scenario = replace(RUNWAY_PANELS, n_companions=n_broken, standard_ages_h=AGES_H)
    plan = plan_with(draw_records(scenario, seed, n_batches), opening_plan())
    if not is_on_site:
        kept = tuple(item for item in plan.records.breaks if item.curing == "standard")
        plan = replace(plan, records=Records(breaks=kept, curing_records=plan.records.curing_records))
    settings = plan.settings
    return replace(
        plan,
        settings=replace(
            settings,
            target=replace(settings.target, ages_h=TARGETS_H, tolerance=0.10, assurance=0.90, weights=()),
            choices=replace(
                settings.choices, ages_h=AGES_H, fewest_ages=3, most_ages=4, specimens_per_age=(2, 2),
                required_ages_h=(),
            ),
            curves=("logarithmic",),
            maturity=MaturityGrid(equivalent_age_q_k=(5000.0,), datum_c=()),
            compare=(),
            costs=COSTS,
            laboratory=None,
            pours=POURS,
        ),
    )  # fmt: skip


@cache
def answered(n_batches: int, is_on_site: bool, n_broken: int) -> tuple[Plan, Recommendation]:
    plan = small_plan(n_batches=n_batches, is_on_site=is_on_site, n_broken=n_broken)
    return plan, recommend(plan, n_draws=5, workers=1)


def answer_of(n_batches: int, is_on_site: bool, n_broken: int) -> EarlyBreaks:
    answer = answered(n_batches, is_on_site, n_broken)[1].early_breaks
    assert answer is not None
    return answer


@dataclass(frozen=True)
class Truth:
    """One check of one batch."""

    target_h: float
    maturity_h: float
    strength_mpa: float
    n_specimens: int


class ByHand:
    """Cells of every batch and what they are checked against, straight from the records."""

    def __init__(self, plan: Plan) -> None:
        self.priors: dict[tuple[str, ...], GrowthPrior] = {}
        self.scatter = within_test_scatter(plan.records.breaks, plan.settings.prior)
        self.records = {(r.batch, r.curing, r.placement): r for r in plan.records.curing_records}
        cells: dict[tuple[str, str, str, float], list[Break]] = defaultdict(list)
        for item in plan.records.breaks:
            cells[item.batch, item.curing, item.placement, item.age_h].append(item)
        self.batches = sorted({key[0] for key in cells})
        self.standard: dict[str, dict[float, tuple[float, float, int]]] = {name: {} for name in self.batches}
        self.checks: dict[str, list[Truth]] = {name: [] for name in self.batches}
        for (batch, curing, placement, age), items in cells.items():
            mean = float(np.mean([item.strength_mpa for item in items]))
            maturity = self._maturity(batch, curing, placement, age)
            if curing == "standard":
                self.standard[batch][age] = (maturity, mean, len(items))
            elif age in TARGETS_H:
                self.checks[batch].append(Truth(age, maturity, mean, len(items)))
        for batch in self.batches:
            for target in TARGETS_H:
                if not any(check.target_h == target for check in self.checks[batch]):
                    self.checks[batch].append(Truth(target, *self.standard[batch][target]))

    def _maturity(self, batch: str, curing: str, placement: str, age_h: float) -> float:
        record = self.records[batch, curing, placement]
        continued = 20.0 if curing == "standard" else None
        return float(
            maturity_at(np.array([age_h]), record.elapsed_h, record.temperature_c, SETTING, continued_c=continued)[0]
        )

    def cv(self, age_h: float) -> float:
        return float(self.scatter.cv_at(np.array([age_h]))[0])

    def prior_of(self, names: list[str]) -> PriorBatches:
        values = np.array([[self.standard[name][age] for age in AGES_H] for name in names])
        return PriorBatches(
            mean_mpa=values[:, :, 1], n_specimens=values[:, :, 2], maturity_h=values[:, :, 0],
            cv=self.scatter.cv_at(np.array(AGES_H)),
        )  # fmt: skip

    def growth_prior(self, names: list[str]) -> GrowthPrior:
        key = tuple(names)
        if key not in self.priors:
            self.priors[key] = estimate_growth_prior(self.prior_of(names))
        return self.priors[key]

    def early(self, batch: str, plan: tuple[int, int], target_h: float) -> list[tuple[float, float, int, int]]:
        """Maturity, mean, specimens of the cell and of the plan for each early break before the target."""
        ages = zip(POURS.early_ages_h, plan, strict=True)
        return [(*self.standard[batch][age], n) for age, n in ages if n and age < target_h]


@dataclass(frozen=True)
class Cast:
    """Trial batches of a reading: so many told of, so many kept out of the population, broken at these ages."""

    number: int
    most: int
    schedule: dict[float, int]

    def rings(self, others: list[str]) -> list[list[str]]:
        """Every batch and the next ones, once round."""
        return [(others[at:] + others[:at])[: self.most] for at in range(len(others) if self.most else 1)]


Early = list[tuple[float, float, int, int]]


def read_by_hand(
    hand: ByHand, batches: list[str], early: Early, trials: list[dict[float, tuple[float, float, int]]], cast: Cast,
    *, at_h: float, n_known: int,
) -> tuple[float, float, float]:  # fmt: skip
    """Log reading, its variance, and what that were if the population was known from so many batches."""
    prior = hand.growth_prior(batches)
    fuller = replace(prior, n_batches=n_known, knot_noise=prior.knot_noise * len(batches) / n_known)
    cells = None
    if early:
        columns = np.array(early, dtype=float)
        cells = CellMeans(maturity_h=columns[:, 0], mean_mpa=columns[:, 1], n_specimens=columns[:, 3])
    texts = []
    for one in trials:
        columns = np.array([(*one[age][:2], n) for age, n in cast.schedule.items()], dtype=float)
        texts.append(CellMeans(maturity_h=columns[:, 0], mean_mpa=columns[:, 1], n_specimens=columns[:, 2]))
    reading, wider = (read_pour(one, [at_h], early=cells, trials=texts) for one in (prior, fuller))
    return float(reading.log_mpa[0]), float(reading.log_sd[0] ** 2), float(wider.log_sd[0] ** 2)


def checks_by_hand(
    hand: ByHand, plan: tuple[int, int], batch: str, cast: Cast, *, without: str = ""
) -> list[dict[str, float]]:
    """Figures of every check of a pour with every trial batch, slopes by differences."""
    others = [name for name in hand.batches if name not in (batch, without)]
    rows = []
    for check, ring in product(hand.checks[batch], cast.rings(others)):
        known = [name for name in others if name not in ring]
        trials = [hand.standard[name] for name in ring[: cast.number]]
        early = hand.early(batch, plan, check.target_h)
        given = {"at_h": check.maturity_h, "n_known": len(others)}
        log_mpa, narrow, stated = read_by_hand(hand, known, early, trials, cast, **given)  # type: ignore[arg-type]
        prior, step = hand.growth_prior(known), 1e-5
        scatter_plan = scatter_cell = 0.0
        for i, (maturity, mean, n_cell, n_plan) in enumerate(early):
            moved = [*early]
            moved[i] = (maturity, mean * np.exp(step), n_cell, n_plan)
            slope = (read_by_hand(hand, known, moved, trials, cast, **given)[0] - log_mpa) / step  # type: ignore[arg-type]
            variance = float(prior.cv_at([maturity])[0]) ** 2
            scatter_plan += slope**2 * variance / n_plan
            scatter_cell += slope**2 * variance / n_cell
        for place, (age, n_plan) in product(range(len(trials)), cast.schedule.items()):
            maturity, mean, n_cell = trials[place][age]
            changed = [*trials]
            changed[place] = trials[place] | {age: (maturity, mean * np.exp(step), n_cell)}
            slope = (read_by_hand(hand, known, early, changed, cast, **given)[0] - log_mpa) / step  # type: ignore[arg-type]
            variance = float(prior.cv_at([maturity])[0]) ** 2
            scatter_plan += slope**2 * variance / n_plan
            scatter_cell += slope**2 * variance / n_cell
        error = float(np.exp(log_mpa)) / check.strength_mpa - 1.0
        noise = hand.cv(check.target_h) ** 2 / check.n_specimens
        n_alike = sum(other.target_h == check.target_h for other in hand.checks[batch])
        level = error**2 + scatter_plan - scatter_cell - noise - (narrow - stated)
        rows.append(
            {
                "level": level, "variance": scatter_plan, "error": error, "stated": stated,
                "weight": 0.5 / n_alike / len(cast.rings(others)), "target": check.target_h,
            }
        )  # fmt: skip
    return rows


def level_by_hand(hand: ByHand, plan: tuple[int, int], batch: str, cast: Cast, *, without: str = "") -> float:
    found = checks_by_hand(hand, plan, batch, cast, without=without)
    return sum(one["weight"] * one["level"] for one in found)


def picked_without(hand: ByHand, plans: list[tuple[int, int]], batch: str, cast: Cast) -> tuple[int, int]:
    """The plan that reads the other pours best, from records that hold neither pour nor this batch."""

    def level(plan: tuple[int, int], other: str) -> float:
        return level_by_hand(hand, plan, other, cast, without=batch)

    return min(plans, key=lambda plan: np.mean([level(plan, other) for other in hand.batches if other != batch]))


def seen_by_others(hand: ByHand, plans: list[tuple[int, int]], cast: Cast) -> tuple[dict[str, tuple[int, int]], float]:
    """The best plan of every pour by the others, learnt from all but the pours, and the RMS error so."""
    level = {key: level_by_hand(hand, *key, cast) for key in product(plans, hand.batches)}
    picked = {
        batch: min(plans, key=lambda one, b=batch: np.mean([level[one, o] for o in hand.batches if o != b]))  # type: ignore[misc]
        for batch in hand.batches
    }
    rows = [one for batch in hand.batches for one in checks_by_hand(hand, picked[batch], batch, cast)]
    floor = sum(one["weight"] * one["variance"] for one in rows) / len(hand.batches)
    mean = float(np.mean([level[picked[batch], batch] for batch in hand.batches]))
    return picked, float(np.sqrt(max(mean, floor)))
