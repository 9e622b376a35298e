"""Early breaks that are cured on site: every one at its own maturity, beside the checks of its own place, by hand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from planner.evidence.tabulation import tabulate
from planner.mixed_model import CellMeans, GrowthPrior, read_pour
from planner.pipeline import recommend
from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError
from planner.terms.records import Break
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.validation.pours_of_cells import pours_of_cells
from planner.verdict.wording.programmes.early_break_words import ON_SITE
from tests.verdict.answers.early_breaks_by_hand import ByHand, small_plan

ON_SITE_AT_6_H = Pours(early_ages_h=(6.0,), specimens_per_age=(1, 2), most_specimens=2, curing="site")


def plan_of(pours: Pours, *, n_batches: int = 5) -> Plan:
    plan = small_plan(n_batches=n_batches, is_on_site=True)
    return replace(plan, settings=replace(plan.settings, pours=pours))


@cache
def answered() -> tuple[Plan, Recommendation]:
    plan = plan_of(ON_SITE_AT_6_H)
    return plan, recommend(plan, n_draws=5, workers=1)


def site_cells(plan: Plan, hand: ByHand) -> dict[tuple[str, str], dict[float, tuple[float, float, int]]]:
    """Maturity, mean and specimens of every site-cured cell, by batch and placement, then age."""
    grouped: dict[tuple[str, str, float], list[Break]] = defaultdict(list)
    for item in plan.records.breaks:
        if item.curing == "site":
            grouped[item.batch, item.placement, item.age_h].append(item)
    cells: dict[tuple[str, str], dict[float, tuple[float, float, int]]] = defaultdict(dict)
    for (batch, place, age), items in grouped.items():
        maturity = hand._maturity(batch, "site", place, age)
        cells[batch, place][age] = (maturity, float(np.mean([i.strength_mpa for i in items])), len(items))
    return cells


def level_at(
    hand: ByHand, cells: dict[float, tuple[float, float, int]], known: list[str], target: float, n_early: int
) -> float:
    """Level of one place at one target, read from the batches known and the break at 6 h where it comes before."""
    prior, n_known = hand.growth_prior(known), len(known) + 1
    fuller = replace(prior, n_batches=n_known, knot_noise=prior.knot_noise * len(known) / n_known)
    (at_h, truth, n_truth), (early_h, mean, n_cell) = cells[target], cells[6.0]
    is_broken = n_early > 0 and target > 6.0

    def read(step: float = 0.0, by: GrowthPrior = prior) -> tuple[float, float]:
        early = CellMeans(
            maturity_h=np.array([early_h]), mean_mpa=np.array([mean * np.exp(step)]),
            n_specimens=np.array([max(float(n_early), 1.0)]),
        )  # fmt: skip
        found = read_pour(by, [at_h], early=early if is_broken else None)
        return float(found.log_mpa[0]), float(found.log_sd[0] ** 2)

    slope = (read(1e-5)[0] - read()[0]) / 1e-5
    single = slope**2 * float(prior.cv_at([early_h])[0]) ** 2
    scatter = single / n_early - single / n_cell if is_broken else 0.0
    error = np.exp(read()[0]) / truth - 1.0
    return float(error**2 + scatter - hand.cv(target) ** 2 / n_truth - (read()[1] - read(by=fuller)[1]))


def test_a_pour_is_read_from_its_own_place_by_hand() -> None:
    """The 6 h target has no break before it; the 1 d target of each place follows that place's 6 h companions."""
    plan, result = answered()
    found, hand = result.early_breaks, ByHand(plan)
    assert found is not None
    least_h = min(cell[0] for cells in hand.standard.values() for cell in cells.values())
    for row in found.rows:
        levels = []
        for name in hand.batches:
            others = [other for other in hand.batches if other != name]
            places = [cells for (batch, _), cells in site_cells(plan, hand).items() if batch == name]
            if row.n_specimens and any(cells[6.0][0] < 0.95 * least_h for cells in places):
                continue  # on a cool night one place was younger than anything in the records: nothing is read there
            # one trial batch is compared with none, so that each of the others is kept out once
            own = [
                level_at(hand, cells, [other for other in others if other != kept_out], target, row.n_specimens)
                for kept_out, cells, target in product(others, places, (6.0, 24.0))
            ]
            levels.append(np.mean(own))
        assert len(levels) == (4 if row.n_specimens else 5)
        assert row.rms_records == pytest.approx(np.sqrt(np.mean(levels)), rel=2e-4)
    assert ON_SITE in found.sentences
    assert found.recommended is not None
    assert result.if_then is None or result.if_then.pour is None


def test_a_break_younger_than_the_records_is_not_read() -> None:
    plan, _ = answered()
    cells = tabulate(plan.records, plan.settings)
    young = replace(cells, site_cured=replace(cells.site_cured, maturity_h=cells.site_cured.maturity_h * 0.01))
    whole, left = (pours_of_cells(one, (6.0,), (0.5, 0.5), setting=0, curing="site").held_out for one in (cells, young))
    assert (whole.early_n_specimens > 0).any()
    assert not (left.early_n_specimens > 0).any()


def test_an_age_without_companions_on_site_is_refused() -> None:
    pours = replace(ON_SITE_AT_6_H, early_ages_h=(5.0,))
    with pytest.raises(InputError, match="site-cured companions were broken at"):
        recommend(plan_of(pours), n_draws=5, workers=1)
