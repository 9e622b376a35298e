"""What every pour might break early, judged on earlier batches that play the pour.

Each batch is held out in turn and read as a later pour: the population is estimated without it, its early cells
are broken in the numbers of the plan, and its reading is held against its own truth. With a trial batch, each
other batch plays that in turn and is kept out of the population as well.

Errors come from whole cells. What fewer (or more) specimens of the plan change is added in closed form, and the
scatter of the truth is taken out of the level:

    D = e^2 + v(plan) - v(cells) - s^2 / n_truth,    v = sum a_i^2 s_i^2 / n_i,    a_i = d reading / d log mean
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from planner.mixed_model.growth_prior import GrowthPrior, SpreadPriors, estimate_growth_prior
from planner.mixed_model.matrices import inverse
from planner.mixed_model.prior_batches import PriorBatches
from planner.mixed_model.reading import Belief, CellMeans, centre, information
from planner.terms.arrays import BoolArray, FloatArray, IntArray

FEWEST_BATCHES = 3
FEWEST_BATCHES_WITH_TRIAL = 4


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

    def early_row(self, check: int) -> int:
        """Row of the early cells that a check is read by."""
        rows = self.check_batch if self.check_early is None else self.check_early
        return int(rows[check])


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class HeldOutErrors:
    """Signed relative errors of every plan. NaN: the batch lacks a cell of the plan, or is the trial batch."""

    error: FloatArray  # predicted over measured truth minus 1, whole cells, (n_trials, n_plans, n_checks)
    plan_variance: FloatArray  # v of the plan's counts, same shape
    cell_variance: FloatArray  # v of the whole cells, same shape
    stated_variance: FloatArray  # variance of the log reading that the model states, same shape
    check_noise: FloatArray  # (n_checks,)

    def level(self) -> FloatArray:
        """Mean square error against true strength at every check, ``(n_plans, n_checks)``."""
        raw = self.error**2 + self.plan_variance - self.cell_variance
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
    trial_specimens: IntArray | None = None,
    priors: SpreadPriors | None = None,
    without: int | None = None,
    known: dict[frozenset[int], GrowthPrior] | None = None,
) -> HeldOutErrors:
    """Held-out errors of every plan.

    Parameters
    ----------
    plans
        Specimens at every early age, ``(n_plans, n_early)``.
    trial_specimens
        Specimens of the trial batch at every age of the records, 0 where it is not broken, ``(n_ages,)``;
        None: no trial batch, the records read alone.
    without
        A batch that is neither pour nor trial batch nor learnt from.
    known
        Priors by the batches left out of them, kept from call to call over the same pours and priors.

    Raises
    ------
    ValueError
        With fewer than three batches, or fewer than four with a trial batch, the one left out not counted.
    """
    n_batches = pours.batches.n_batches
    fewest = FEWEST_BATCHES if trial_specimens is None else FEWEST_BATCHES_WITH_TRIAL
    n_left = n_batches - (without is not None)
    if n_left < fewest:
        raise ValueError(f"Later pours are judged with {fewest} batches or more, given {n_left}.")
    shape = (1 if trial_specimens is None else n_batches, len(plans), len(pours.check_batch))
    error, plan_variance, cell_variance, stated = (np.full(shape, np.nan) for _ in range(4))
    priors_without = {} if known is None else known
    out = frozenset() if without is None else frozenset([without])
    for trial in range(shape[0]):
        for held_out in sorted(set(pours.check_batch.tolist())):
            is_trial = trial_specimens is not None
            if held_out in out or (is_trial and (trial == held_out or trial in out)):
                continue
            left_out = out | frozenset([held_out, trial] if is_trial else [held_out])
            if left_out not in priors_without:
                priors_without[left_out] = estimate_growth_prior(pours.batches.without(left_out), priors)
            prior = priors_without[left_out]
            about, gain = _about(prior, pours.batches, trial, trial_specimens)
            for check in np.flatnonzero(pours.check_batch == held_out):
                figures = _read_plans(prior, about, gain, pours, plans, int(check))
                at = (trial, slice(None), check)
                error[at], plan_variance[at], cell_variance[at], stated[at] = figures
    return HeldOutErrors(
        error=error,
        plan_variance=plan_variance,
        cell_variance=cell_variance,
        stated_variance=stated,
        check_noise=pours.check_noise,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _TrialGain:
    """How the centre follows the log means of the trial batch."""

    by_age: FloatArray  # d centre / d log mean, (2, n_broken)
    plan_noise: FloatArray  # variance of each log mean with the schedule's counts, (n_broken,)
    cell_noise: FloatArray  # with the whole cells, (n_broken,)


def _about(
    prior: GrowthPrior, batches: PriorBatches, trial: int, trial_specimens: IntArray | None
) -> tuple[Belief, _TrialGain | None]:
    """Centre of the batches after the trial batch, broken as its schedule says where it has the cells."""
    if trial_specimens is None:
        return centre(prior), None
    broken = np.flatnonzero((trial_specimens > 0) & batches.is_held[trial])
    if len(broken) == 0:
        return centre(prior), None
    counts = trial_specimens[broken].astype(np.float64)
    maturity = batches.maturity_h[trial, broken]
    told = information(
        prior, CellMeans(maturity_h=maturity, mean_mpa=batches.mean_mpa[trial, broken], n_specimens=counts)
    )
    about = centre(prior, [told])
    _, rows = prior.at(maturity)
    scatter = prior.cv_at(maturity) ** 2
    weight = 1.0 / (scatter / counts + prior.departure_variance(maturity))
    share = inverse(np.eye(2) + told.precision @ prior.spread)
    by_age = about.covariance @ share @ (rows * weight[:, None]).T
    return about, _TrialGain(by_age, scatter / counts, scatter / batches.n_specimens[trial, broken])


def _read_plans(
    prior: GrowthPrior,
    about: Belief,
    gain: _TrialGain | None,
    pours: HeldOutPours,
    plans: IntArray,
    check: int,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Error, variance of plan and of cells, and stated variance of every plan at one check, ``(n_plans,)`` each."""
    batch = pours.early_row(check)
    before = pours.is_before[check]
    held = pours.early_n_specimens[batch] > 0
    counts = np.where(before, plans, 0).astype(np.float64)
    is_lacking = np.any((counts > 0) & ~held, axis=1)
    counts = np.where(held, counts, 0.0)
    maturity = np.where(held, pours.early_maturity_h[batch], 1.0)
    expected, rows = prior.at(maturity)
    difference = np.where(held, np.log(np.where(held, pours.early_mean_mpa[batch], 1.0)) - expected, 0.0)
    scatter = prior.cv_at(maturity) ** 2
    weight = counts / (scatter + counts * prior.departure_variance(maturity))
    at_value, (at_row,) = prior.at(pours.check_maturity_h[check : check + 1])

    before_breaks = inverse(about.covariance + prior.spread)
    after = _inverse_2x2(
        before_breaks[0, 0] + weight.sum(axis=1),
        before_breaks[0, 1] + weight @ rows[:, 1],
        before_breaks[1, 1] + weight @ rows[:, 1] ** 2,
    )
    toward = np.stack(
        [after[0] * at_row[0] + after[1] * at_row[1], after[1] * at_row[0] + after[2] * at_row[1]], axis=1
    )  # h' V, (n_plans, 2)
    gained = (toward @ rows.T) * weight  # d reading / d log mean, (n_plans, n_early)
    log_reading = at_value[0] + toward @ (before_breaks @ about.mean) + gained @ difference
    plan_variance = np.sum(gained**2 * scatter / np.maximum(counts, 1.0), axis=1)
    cell_variance = np.sum(gained**2 * scatter / np.maximum(pours.early_n_specimens[batch], 1.0), axis=1)
    if gain is not None:
        by_trial = (toward @ before_breaks @ gain.by_age) ** 2
        plan_variance += by_trial @ gain.plan_noise
        cell_variance += by_trial @ gain.cell_noise
    error = np.expm1(log_reading - np.log(pours.check_truth_mpa[check]))
    stated = toward @ at_row + prior.departure_variance(pours.check_maturity_h[check : check + 1])[0]
    return np.where(is_lacking, np.nan, error), plan_variance, cell_variance, stated


def _inverse_2x2(a: FloatArray, b: FloatArray, c: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Elements 00, 01, 11 of the inverses of symmetric matrices given by theirs."""
    determinant = a * c - b * b
    return c / determinant, -b / determinant, a / determinant
