"""Figures of an answer that rests on drawn batches, from the drawn strengths themselves.

The batches are the program's own draws: how they are drawn is tested in tests/population. What is made of them,
fit, error and shares, is worked out here by hand.
"""

from __future__ import annotations

from shutil import copyfile

import numpy as np
import pytest
from scipy import stats

from planner import pipeline
from planner.population import basis_of, draw_cells, judged_batches, population_model, usual_additions
from planner.population.information_gain import ages_of
from planner.read import load_plan
from planner.verdict.validation import drawn_batches
from tests.oracle.plain.fits import reading
from tests.oracle.plain.inside import of_normal_errors
from tests.oracle.small_plans import SCENARIOS

N_POPULATIONS, PER_POPULATION, SEED = 16, 4, 2  # of the batches that judge what others have chosen
FEW = {  # a quick draw serves as well: what is made of it is what counts here
    population_model: {"N_STEPS": 40, "N_STEPS_HELD_OUT": 20},
    judged_batches: {"N_POPULATIONS": 10, "PER_POPULATION": 3},
    drawn_batches: {"N_POPULATIONS": N_POPULATIONS, "PER_POPULATION": PER_POPULATION},
}
SPARSE = """
title = "Before the first early break"
[mix]
final_set_h = 5
[prior]
breaks = "breaks.csv"
temperatures = "temperatures.csv"
standard_curing_c = 20
[target]
ages = ["14 h"]
tolerance = "15 %"
[site]
mean_concrete_temperature_c = [15, 25]
[choices]
ages = ["10 h", "14 h", "1 d", "3 d", "7 d"]
fewest_ages = 3
most_ages = 3
specimens_per_age = [2, 3]
least_strength_mpa = 1
[budget]
specimens = 8
[curves]
families = ["logarithmic", "piecewise linear in log age"]
[maturity]
equivalent_age_q_k = [5000]
datum_c = []
"""
PUBLISHED = (
    SPARSE.replace('breaks = "breaks.csv"\ntemperatures = "temperatures.csv"\n', "")
    .replace(
        "standard_curing_c = 20", 'published = "EN 1992-1-1 class N"\nstrength_28d_mpa = 50\nstandard_curing_c = 20'
    )
    .replace('ages = ["14 h"]', 'ages = ["3 d", "14 d"]')
    .replace('"10 h", "14 h", "1 d", "3 d", "7 d"', '"1 d", "2 d", "3 d", "7 d", "28 d"')
)


@pytest.fixture(scope="module", params=["population", "published"])
def both(request, tmp_path_factory):
    """The program's answer, and errors and variances of its choice in every drawn batch."""
    folder = tmp_path_factory.mktemp("plan")
    if request.param == "population":
        for name in ("breaks", "temperatures"):
            copyfile(SCENARIOS / "tunnel-segments" / f"{name}-sparse.csv", folder / f"{name}.csv")
    (folder / "plan.toml").write_text(SPARSE if request.param == "population" else PUBLISHED)
    plan = load_plan(folder / "plan.toml")
    with pytest.MonkeyPatch.context() as patch:
        for module, numbers in FEW.items():
            for name, number in numbers.items():
                patch.setattr(module, name, number)
        basis = basis_of(plan)
        patch.setattr(pipeline, "basis_of", lambda _plan: basis)  # learning a population takes long; once is enough
        found = pipeline.recommend(plan, n_draws=20, workers=1)
    assert found.evidence.grade == request.param
    population = basis.population
    choice = found.recommended
    ways = usual_additions(population, plan.settings)
    drawn = draw_cells(
        population, plan.settings, n_batches=N_POPULATIONS * PER_POPULATION, per_population=PER_POPULATION,
        seed=SEED, ages_h=(*choice.schedule.ages_h, *ages_of(ways)), maturities=(choice.maturity,),
    )  # fmt: skip
    return found, drawn, Drawn(found, drawn)


class Drawn:
    """What the choice does in every drawn batch, one row for each check."""

    def __init__(self, found, drawn) -> None:
        cells, choice = drawn.cells, found.recommended
        at = [int(np.argmin(np.abs(cells.ages_h - age))) for age in choice.schedule.ages_h]
        counts = np.array(choice.schedule.specimens)
        self.tolerance, self.n_targets = found.tolerance, len(found.target_ages_h)
        self.target, self.weight = cells.checks.target, cells.checks.weight
        self.unit = cells.views.unit[cells.checks.view]
        self.population = drawn.population_of_unit
        rows = []
        for k, view in enumerate(cells.checks.view):
            rows.append(self._read(cells, choice, at, counts, view, k))
        self.error, self.variance = np.array(rows).T
        self._pairs = self._read_on_others(cells, choice, at, counts)

    @staticmethod
    def _read(cells, choice, at, counts, view, k):
        means = cells.views.mean_mpa[view, at]
        scatter = cells.cv[at] * means
        read, slopes = reading(
            choice.curve, choice.weighting, cells.views.maturity_h[0, view, at], means, cells.checks.maturity_h[0, k],
            scatter,
        )  # fmt: skip
        truth = cells.checks.truth_mpa[k]
        return read / truth - 1.0, float(np.sum((slopes * scatter / truth) ** 2 / counts))

    def _read_on_others(self, cells, choice, at, counts):
        """Curve of every batch read at the checks of the others of its population."""
        rows = []
        for number in np.unique(self.population):
            members = np.flatnonzero(self.population == number)
            for k in np.flatnonzero(np.isin(self.unit, members)):
                rows += [
                    (
                        *self._read(cells, choice, at, counts, view, k),
                        self.weight[k],
                        view,
                        self.unit[k],
                        self.target[k],
                    )
                    for view in members
                    if view != cells.checks.view[k]
                ]
        error, variance, weight, *where = np.array(rows).T
        return error, variance, weight / weight.sum(), list(zip(*where, strict=True))

    def mean(self, values, target=None):
        """Over checks inside a batch and target, then over targets: one figure for each batch."""
        by_target = []
        for t in range(self.n_targets) if target is None else [target]:
            own = self.target == t
            by_target.append(np.bincount(self.unit[own], (self.weight * values)[own], len(self.population)))
        return np.mean(by_target, axis=0)

    @property
    def pairs(self):
        return self._pairs


def test_own_batch(both):
    found, _, by_hand = both
    own = found.honest.own_batch
    square = by_hand.mean(by_hand.error**2 + by_hand.variance)
    np.testing.assert_allclose(own.nested_rms, np.sqrt(square.mean()), rtol=1e-6)
    assert own.rms_upper_95 is None
    over = stats.norm.sf((by_hand.tolerance - by_hand.error) / np.sqrt(by_hand.variance))
    np.testing.assert_allclose(own.over_predicted_beyond_tolerance, by_hand.mean(over).mean(), rtol=1e-6)
    any_over = stats.norm.cdf(by_hand.error / np.sqrt(by_hand.variance))
    np.testing.assert_allclose(own.over_predicted_any, by_hand.mean(any_over).mean(), rtol=1e-6)


def test_shares_inside(both):
    found, _, by_hand = both
    columns = (by_hand.unit, by_hand.target, by_hand.weight, by_hand.error, np.sqrt(by_hand.variance))
    share = of_normal_errors(zip(*columns, strict=True), by_hand.tolerance)
    np.testing.assert_allclose(found.honest.own_batch.within_tolerance, share, rtol=1e-6)
    for t, stated in enumerate(found.honest.per_target):
        own = by_hand.target == t
        one = of_normal_errors(zip(*(column[own] for column in columns), strict=True), by_hand.tolerance)
        np.testing.assert_allclose(stated.within_tolerance, one, rtol=1e-6)
    assert found.honest.own_batch.within_tolerance_lower_95 is None


def test_eight_in_ten_readings(both):
    # The quantile of |e + sd z| over batches and a normal z, here by 100,000 draws (seed 6): its standard error is .3 %
    # where they are normal, so that 3 % is no matter of chance.
    found, _, by_hand = both
    generator = np.random.default_rng(6)
    which = generator.integers(len(by_hand.error), size=100_000)
    drawn = by_hand.error[which] + np.sqrt(by_hand.variance[which]) * generator.standard_normal(len(which))
    np.testing.assert_allclose(found.honest.own_batch.nested_p80_abs, np.quantile(np.abs(drawn), 0.8), rtol=0.03)


def test_later_pour(both):
    found, _, by_hand = both
    later = found.honest.next_batch
    error, variance, weight, where = by_hand.pairs
    square = weight @ (error**2 + variance)
    own_square = by_hand.mean(by_hand.error**2 + by_hand.variance).mean()
    np.testing.assert_allclose(later.rms, np.sqrt(max(square, own_square)), rtol=1e-6)
    np.testing.assert_allclose(later.between_batch_cv, np.sqrt((later.rms**2 - own_square) / 2), rtol=1e-5)
    assert later.rms_upper_95 is None
    rows = (
        ((curve, pour), target, *law)
        for (curve, pour, target), *law in zip(where, weight, error, np.sqrt(variance), strict=True)
    )
    np.testing.assert_allclose(later.within_tolerance, of_normal_errors(rows, by_hand.tolerance), rtol=1e-6)
    assert later.within_tolerance_lower_95 is None
    over = stats.norm.sf((by_hand.tolerance - error) / np.sqrt(variance))
    np.testing.assert_allclose(later.over_predicted_beyond_tolerance, weight @ over, rtol=1e-6)


def test_nothing_is_released_on_drawn_batches(both):
    found, *_ = both
    assert found.honest.safe_reading_factor is None
    assert found.sufficiency is None
