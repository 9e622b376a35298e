"""What every pour might break early, judged on earlier batches that play the pour.

Each batch is held out in turn and read as a later pour: the population is estimated without it, its early cells
are broken in the numbers of the plan, and its reading is held against its own truth. Trial batches are played by the
others in turn; these are kept out of the population, as many whatever number of trial batches is compared, none
included. What the population lacks for it is put back in closed form: the variance that the model states with the
batches kept out, less that with all but the pour.

Errors come from whole cells. What fewer (or more) specimens of the plan change is added in closed form, and the
scatter of the truth is taken out of the level:

    D = e^2 + v(plan) - v(cells) - s^2 / n_truth - u,    v = sum a_i^2 s_i^2 / n_i,    a_i = d reading / d log mean

with u what was put back.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from planner.mixed_model.growth_prior import GrowthPrior, SpreadPriors, estimate_growth_prior
from planner.mixed_model.matrices import inverse
from planner.mixed_model.prior_batches import PriorBatches
from planner.mixed_model.reading import Belief
from planner.mixed_model.trial_batches import TrialBatches, TrialGain, about_trials, trial_sets
from planner.terms.arrays import BoolArray, FloatArray, IntArray

FEWEST_BATCHES = 3  # one to play the pour and two that tell a spread; one more for every trial batch


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class HeldOutPours:
    """The earlier batches as pours: what may be broken early, and where each is checked."""

    batches: PriorBatches
    early_mean_mpa: FloatArray  # cells that a plan may break, of each batch or each of its places, (n_rows, n_early)
    early_n_specimens: FloatArray  # 0: a hole, (n_rows, n_early)
    early_maturity_h: FloatArray  # (n_rows, n_early)
    check_batch: IntArray  # (n_checks,)
    check_maturity_h: FloatArray  # (n_checks,)
    check_truth_mpa: FloatArray  # (n_checks,)
    check_noise: FloatArray  # relative variance of the truth's mean, (n_checks,)
    is_before: BoolArray  # whether an early age comes before the check's target, (n_checks, n_early)
    check_early: IntArray | None = None  # row of the early cells beside each check; its batch where None, (n_checks,)

    @property
    def early_rows(self) -> IntArray:
        """Row of the early cells that each check is read by, ``(n_checks,)``."""
        return self.check_batch if self.check_early is None else self.check_early


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class HeldOutErrors:
    """Signed relative errors of every plan. NaN: the batch lacks a cell of the plan, or is the trial batch."""

    error: FloatArray  # predicted over measured truth minus 1, whole cells, (n_trials, n_plans, n_checks)
    plan_variance: FloatArray  # v of the plan's counts, same shape
    cell_variance: FloatArray  # v of the whole cells, same shape
    stated_variance: FloatArray  # of the log reading, as the model states it with all but the pour known, same shape
    kept_out_variance: FloatArray  # u: what it states more with batches kept out for comparison, same shape
    check_noise: FloatArray  # (n_checks,)

    def level(self) -> FloatArray:
        """Mean square error against true strength at every check, ``(n_plans, n_checks)``."""
        raw = self.error**2 + self.plan_variance - self.cell_variance - self.kept_out_variance
        return np.asarray(_mean_over_trials(raw) - self.check_noise)

    def variance(self) -> FloatArray:
        """Part of it that the counts of the plan make, ``(n_plans, n_checks)``."""
        return _mean_over_trials(self.plan_variance)


def _mean_over_trials(values: FloatArray) -> FloatArray:
    """Mean over the trial batches that are not NaN, NaN where there is none, ``values.shape[1:]``."""
    known = np.isfinite(values)
    total = np.where(known, values, 0.0).sum(axis=0)
    count = known.sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def enumerate_early_plans(n_early: int, specimens_per_age: tuple[int, int], most_specimens: int) -> IntArray:
    """Every allowed number of specimens at every early age, ``(n_plans, n_early)``; the first breaks none."""
    fewest, most = specimens_per_age
    if not 1 <= fewest <= most or most_specimens < 0:
        raise ValueError(
            f"Specimens at an early age run from 1 upwards, given {specimens_per_age} and {most_specimens} in all."
        )
    plans = [(0,) * n_early]
    for n_ages in range(1, n_early + 1):
        if n_ages * fewest > most_specimens:
            break
        for ages in combinations(range(n_early), n_ages):
            for counts in product(range(fewest, most + 1), repeat=n_ages):
                if sum(counts) <= most_specimens:
                    row = [0] * n_early
                    for age, count in zip(ages, counts, strict=True):
                        row[age] = count
                    plans.append(tuple(row))
    return np.array(plans, dtype=np.int64).reshape(len(plans), n_early)


def judge_early_plans(
    pours: HeldOutPours,
    plans: IntArray,
    *,
    trials: TrialBatches | None = None,
    priors: SpreadPriors | None = None,
    without: int | None = None,
    known: dict[frozenset[int], GrowthPrior] | None = None,
) -> HeldOutErrors:
    """Held-out errors of every plan.

    Parameters
    ----------
    plans
        Specimens at every early age, ``(n_plans, n_early)``.
    trials
        What is cast before, its places taken by the others in turn: the first axis of the errors is the first of the
        trial batches. None: no trial batch, the records read alone, and an axis of one.
    without
        A batch that is neither pour nor trial batch nor learnt from.
    known
        Priors by the batches left out of them, kept from call to call over the same pours and priors.

    Raises
    ------
    ValueError
        With fewer than three batches and one more for every trial batch compared, the one left out not counted.
    """
    n_batches = pours.batches.n_batches
    cast = TrialBatches(specimens=np.zeros(0, dtype=np.int64), number=0, most=0) if trials is None else trials
    fewest, n_left = FEWEST_BATCHES + cast.most, n_batches - (without is not None)
    if n_left < fewest:
        raise ValueError(f"Later pours are judged with {fewest} batches or more, given {n_left}.")
    shape = (n_batches if cast.most else 1, len(plans), len(pours.check_batch))
    found = {name: np.full(shape, np.nan) for name in ("error", "plan", "cell", "stated", "kept_out")}
    priors_without = {} if known is None else known
    out = frozenset() if without is None else frozenset([without])
    for held_out in sorted({*pours.check_batch.tolist()} - out):
        others = [b for b in range(n_batches) if b != held_out and b not in out]
        checks = np.flatnonzero(pours.check_batch == held_out)
        for batches in trial_sets(others, cast.most):
            left_out = out | {held_out, *batches}
            if left_out not in priors_without:
                priors_without[left_out] = estimate_growth_prior(pours.batches.without(left_out), priors)
            prior = priors_without[left_out]
            given = batches[: cast.number]
            about, gain = about_trials(prior, pours.batches, given, cast.specimens)
            fuller = prior.known_from(len(others))
            fuller_about, _ = about_trials(fuller, pours.batches, given, cast.specimens)
            read = _EarlyRead.of(pours, plans, checks, prior, about)
            stated = read.stated
            if cast.most:
                stated = _EarlyRead.of(pours, plans, checks, fuller, fuller_about).stated
            by_plan, by_cell = read.variances(pours, gain)
            first = batches[0] if batches else 0
            for name, values in (
                ("error", read.error(pours)), ("plan", by_plan), ("cell", by_cell), ("stated", stated),
                ("kept_out", read.stated - stated),
            ):  # fmt: skip
                found[name][first][:, checks] = values
    return HeldOutErrors(
        error=found["error"],
        plan_variance=found["plan"],
        cell_variance=found["cell"],
        stated_variance=found["stated"],
        kept_out_variance=found["kept_out"],
        check_noise=pours.check_noise,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _EarlyRead:
    """Every plan read at some checks of one pour."""

    checks: IntArray  # (n_checks,)
    log_reading: FloatArray  # (n_checks, n_plans)
    stated: FloatArray  # variance of it, (n_plans, n_checks)
    gained: FloatArray  # d reading / d log mean of the early cells, (n_checks, n_plans, n_early)
    by_centre: FloatArray  # d reading / d centre, (n_checks, n_plans, 2)
    scatter: FloatArray  # variance of one early specimen, (n_checks, n_early)
    counts: FloatArray  # early specimens before the target, 0 in holes, (n_checks, n_plans, n_early)
    is_lacking: BoolArray  # a cell that the plan breaks, (n_checks, n_plans)

    @classmethod
    def of(
        cls, pours: HeldOutPours, plans: IntArray, checks: IntArray, prior: GrowthPrior, about: Belief
    ) -> _EarlyRead:
        batch = pours.early_rows[checks]
        held = pours.early_n_specimens[batch] > 0
        counts = np.where(pours.is_before[checks][:, None, :], plans, 0).astype(np.float64)
        is_lacking = np.any((counts > 0) & ~held[:, None, :], axis=2)
        counts = np.where(held[:, None, :], counts, 0.0)
        maturity = np.where(held, pours.early_maturity_h[batch], 1.0)
        expected, rows = prior.at(maturity)
        difference = np.where(held, np.log(np.where(held, pours.early_mean_mpa[batch], 1.0)) - expected, 0.0)
        scatter = prior.cv_at(maturity) ** 2
        weight = counts / (scatter[:, None, :] + counts * prior.departure_variance(maturity)[:, None, :])
        check_h = pours.check_maturity_h[checks]
        at_value, at_row = prior.at(check_h)

        before_breaks = inverse(about.covariance + prior.spread)
        slope = rows[:, :, 1:]
        after = _inverse_2x2(
            before_breaks[0, 0] + weight.sum(axis=2),
            before_breaks[0, 1] + (weight @ slope)[:, :, 0],
            before_breaks[1, 1] + (weight @ slope**2)[:, :, 0],
        )
        at_slope = at_row[:, 1:]
        toward = np.stack([after[0] + after[1] * at_slope, after[1] + after[2] * at_slope], axis=2)  # h' V
        gained = (toward @ np.swapaxes(rows, 1, 2)) * weight
        by_centre = toward @ before_breaks
        return cls(
            checks=checks,
            log_reading=at_value[:, None] + by_centre @ about.mean + (gained @ difference[:, :, None])[:, :, 0],
            stated=((toward @ at_row[:, :, None])[:, :, 0] + prior.departure_variance(check_h)[:, None]).T,
            gained=gained,
            by_centre=by_centre,
            scatter=scatter,
            counts=counts,
            is_lacking=is_lacking,
        )

    def error(self, pours: HeldOutPours) -> FloatArray:
        """Read over measured truth minus 1, ``(n_plans, n_checks)``; NaN where the pour lacks a cell of the plan."""
        error = np.expm1(self.log_reading - np.log(pours.check_truth_mpa[self.checks])[:, None])
        return np.where(self.is_lacking, np.nan, error).T

    def variances(self, pours: HeldOutPours, gain: TrialGain | None) -> tuple[FloatArray, FloatArray]:
        """Variance of the reading by the counts of the plan and by the whole cells, ``(n_plans, n_checks)`` each."""
        single = self.gained**2 * self.scatter[:, None, :]
        n_in_cell = pours.early_n_specimens[pours.early_rows[self.checks]][:, None, :]
        by_plan = np.sum(single / np.maximum(self.counts, 1.0), axis=2)
        by_cell = np.sum(single / np.maximum(n_in_cell, 1.0), axis=2)
        if gain is not None:
            by_trial = (self.by_centre @ gain.by_age) ** 2
            by_plan, by_cell = by_plan + by_trial @ gain.plan_noise, by_cell + by_trial @ gain.cell_noise
        return by_plan.T, by_cell.T


def _inverse_2x2(a: FloatArray, b: FloatArray, c: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Elements 00, 01, 11 of the inverses of symmetric matrices given by theirs."""
    determinant = a * c - b * b
    return c / determinant, -b / determinant, a / determinant
