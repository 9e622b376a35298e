"""The search and the nesting once more in plain Python: curve_fit, LeaveOneGroupOut and loops.

Nothing here calls the compiled code but the thing under test. The tie rule is written again from its words.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from itertools import combinations, product
from statistics import fmean, median, stdev

import numpy as np
import pytest
from scipy.optimize import OptimizeWarning, curve_fit
from sklearn.model_selection import LeaveOneGroupOut

from planner.pipeline import recommend
from planner.terms.plan.settings import Prior
from tests.laws.invented import AGES_H, TARGET_H, plan_of, programme, settings

CV = 0.03
COUNTS = (2, 3)
N_COMPANIONS = 3  # behind every mean of the records, and behind every truth
BUDGET = 8
TOLERANCE = 0.10


@dataclass
class PlainChoice:
    """One schedule with one curve and weighting, and what it does in every batch."""

    ages_h: tuple[float, ...]
    specimens: tuple[int, ...]
    joint: tuple[str, str]
    errors: list[float]
    variances: list[float]
    prior_variances: list[float]  # with the specimens that the records had
    penalties: list[float]  # what the other schedules say of the joint

    @property
    def losses(self):
        return [e**2 + 2 * v + p for e, v, p in zip(self.errors, self.variances, self.penalties, strict=True)]

    @property
    def levels(self):
        """Squared error against true strength: the noise in the error out, that of the schedule in."""
        return [
            e**2 - prior - CV**2 / N_COMPANIONS + v
            for e, prior, v in zip(self.errors, self.prior_variances, self.variances, strict=True)
        ]

    @property
    def price(self):
        """Without costs: specimens, visits, the last age."""
        return (sum(self.specimens), len(self.ages_h), self.ages_h[-1])


def hyperbola(age_h, ultimate, half, offset):
    return ultimate * (age_h - offset) / (age_h - offset + half)


def fitted_hyperbola(ages_h, means_mpa, weighting):
    """Ultimate strength, half time and offset by scipy, inside the bounds the curve states."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OptimizeWarning)  # three ages leave no degree of freedom for errors
        found, _ = curve_fit(
            hyperbola, ages_h, means_mpa, p0=(1.2 * means_mpa[-1], 20.0, 0.0),
            sigma=means_mpa if weighting == "relative" else None,
            bounds=([0, 1e-3 * ages_h[0], -ages_h[0]], [np.inf, 1e3 * ages_h[-1], 0.98 * ages_h[0]]),
            xtol=1e-14, ftol=1e-14, gtol=1e-14, max_nfev=5000,
        )  # fmt: skip
    return found


def hyperbolic_answer(ages_h, means_mpa, weighting):
    """Prediction at the target and its first-order answer to each mean, residuals neglected."""
    found = fitted_hyperbola(ages_h, means_mpa, weighting)
    ultimate, half, offset = found
    sigma = means_mpa if weighting == "relative" else np.ones_like(means_mpa)
    # A parameter at its bound does not answer.
    is_half_free = 1.001e-3 * ages_h[0] < half < 0.999e3 * ages_h[-1]
    is_offset_free = -0.99999 * ages_h[0] < offset < 0.97999 * ages_h[0]
    is_free = np.array([True, is_half_free, is_offset_free])

    def jacobian(ages):
        since = np.asarray(ages) - offset
        by_half = -ultimate * since / (since + half) ** 2
        by_offset = -ultimate * half / (since + half) ** 2
        return np.stack([since / (since + half), by_half, by_offset], axis=-1)[..., is_free]

    slopes = jacobian(TARGET_H) @ np.linalg.pinv(jacobian(ages_h) / sigma[:, None]) / sigma
    return float(hyperbola(TARGET_H, *found)), slopes


def straight_answer(ages_h, means_mpa):
    """The same for straight lines in log age, the end segment continued to a target outside."""
    left = int(np.clip(np.searchsorted(ages_h, TARGET_H) - 1, 0, len(ages_h) - 2))
    share = (np.log(TARGET_H) - np.log(ages_h[left])) / (np.log(ages_h[left + 1]) - np.log(ages_h[left]))
    slopes = np.zeros(len(ages_h))
    slopes[left : left + 2] = 1 - share, share
    return float(slopes @ means_mpa), slopes


@pytest.fixture(scope="module")
def plain():
    """Every choice of a small programme, fitted one by one."""
    records = programme(n_batches=4, cv=0.02, seed=3)
    means = {
        (b, age): fmean(i.strength_mpa for i in records.breaks if (i.batch, i.age_h, i.curing) == (b, age, "standard"))
        for b in records.batches
        for age in AGES_H
    }
    truth = {
        b: fmean(i.strength_mpa for i in records.breaks if i.batch == b and i.curing == "site") for b in records.batches
    }
    joints = [("hyperbolic", "absolute"), ("hyperbolic", "relative"), ("piecewise linear in log age", "absolute")]
    choices = []
    for joint in joints:
        fitted = []
        for ages in (ages for n_ages in range(3, len(AGES_H) + 1) for ages in combinations(AGES_H, n_ages)):
            errors, shares = [], []
            for batch in records.batches:
                ages_h, means_mpa = np.array(ages), np.array([means[batch, age] for age in ages])
                prediction, slopes = (
                    hyperbolic_answer(ages_h, means_mpa, joint[1])
                    if joint[0] == "hyperbolic"
                    else straight_answer(ages_h, means_mpa)
                )
                errors.append(prediction / truth[batch] - 1)
                shares.append((slopes * CV * means_mpa / truth[batch]) ** 2)
            fitted.append((ages, errors, shares))
        # The joint's own loss in the middle of all sets of ages, each with as many specimens as the records have,
        # and how far the one site-cured companion, at 20 C as the curing room, is from the standard mean there.
        penalties = [
            median(errors[b] ** 2 + 2 * float(np.sum(shares[b])) / N_COMPANIONS for _, errors, shares in fitted)
            + (means[batch, TARGET_H] / truth[batch] - 1) ** 2
            for b, batch in enumerate(records.batches)
        ]
        choices += [
            PlainChoice(
                ages, counts, joint, errors,
                [float(np.sum(s / np.array(counts))) for s in shares],
                [float(np.sum(s)) / N_COMPANIONS for s in shares],
                penalties,
            )
            for ages, errors, shares in fitted
            if len(ages) <= 4
            for counts in product(COUNTS, repeat=len(ages))
            if sum(counts) <= BUDGET
        ]  # fmt: skip
    return records, choices


def judged_of(choice, batches, truth):
    """RMS, loss and mean error on every batch, read with the curve of every other: all at 20 C, so at one maturity."""
    loss, level, mean = [], [], []
    for read in batches:
        others = [b for b in batches if b != read]
        scale = [truth[b] / truth[read] for b in others]
        errors = [(1 + choice.errors[b]) * s - 1 for b, s in zip(others, scale, strict=True)]
        own = fmean(choice.variances[b] * s**2 for b, s in zip(others, scale, strict=True))
        prior = fmean(choice.prior_variances[b] * s**2 for b, s in zip(others, scale, strict=True))
        square = fmean(e**2 for e in errors)
        loss.append(square + 2 * own)
        level.append(square + own - prior - CV**2 / N_COMPANIONS)
        mean.append(fmean(errors))
    return fmean(level) ** 0.5, loss, mean


def take(choices, batches, truth):
    """The cheapest of the ladder that ties with the best on later pours; none is enough here."""
    batches = list(batches)
    mean = [fmean(c.losses[b] for b in batches) for c in choices]
    least = min(fmean(c.penalties[b] for b in batches) for c in choices)
    ladder = []
    for at in sorted(range(len(choices)), key=lambda at: (choices[at].price, mean[at])):
        as_many = min(m for c, m in zip(choices, mean, strict=True) if c.price[0] <= choices[at].price[0])
        is_near = mean[at] - least <= 1.21 * (as_many - least)
        if is_near and (not ladder or mean[at] < mean[ladder[-1]] * (1 - 1e-12)):
            ladder.append(at)
    judged = [judged_of(choices[at], batches, truth) for at in ladder]
    best = min(judged, key=lambda each: each[0])
    for at, (rms, loss, highest) in zip(ladder, judged, strict=True):
        behind = [o - t for o, t in zip(loss, best[1], strict=True)]
        is_over = any(
            h > TOLERANCE + TOLERANCE / 40 and not b > TOLERANCE for h, b in zip(highest, best[2], strict=True)
        )
        is_near = rms <= best[0] + TOLERANCE / 40 or fmean(behind) <= stdev(behind) / len(behind) ** 0.5
        if rms == best[0] or (is_near and rms**2 <= 1.21 * best[0] ** 2 and not is_over):
            return choices[at]
    raise AssertionError("the best ties with itself")


def truths(records):
    return [
        fmean(i.strength_mpa for i in records.breaks if i.batch == b and i.curing == "site") for b in records.batches
    ]


def asked():
    return settings(
        curves=("hyperbolic", "piecewise linear in log age"), specimens=BUDGET,
        prior=Prior(standard_curing_c=20.0, within_test_cv=CV),
    )  # fmt: skip


def test_search_and_rule_are_the_plain_ones(plain):
    records, choices = plain
    result = recommend(plan_of(records, asked()), n_draws=20, workers=1)
    assert result.search.n_joint_choices == len(choices)
    assert not result.spending.is_enough
    lowest, cheapest = min(choices, key=lambda c: fmean(c.losses)), take(choices, range(4), truths(records))
    for found, wanted in ((result.best, lowest), (result.recommended, cheapest)):
        assert (found.schedule.ages_h, found.schedule.specimens) == (wanted.ages_h, wanted.specimens)
        assert (found.curve, found.weighting) == wanted.joint
        np.testing.assert_allclose(found.score, fmean(wanted.losses), rtol=1e-5)
    scores = {}
    for choice in choices:
        key = (choice.ages_h, choice.specimens)
        scores[key] = min(scores.get(key, np.inf), fmean(choice.losses))
    table = result.choices
    for shown in (result.best, result.recommended, *result.tied, *result.next_best):
        at = table.schedules.index(shown.schedule)
        if (table.curve[at], table.weighting[at], table.maturity[at]) == (
            shown.curve, shown.weighting, shown.maturity,
        ):  # fmt: skip
            np.testing.assert_allclose(shown.score, table.score[at], rtol=1e-12)
    found = {(s.ages_h, s.specimens): score for s, score in zip(table.schedules, table.score, strict=True)}
    assert found.keys() == scores.keys()
    np.testing.assert_allclose([found[key] for key in scores], list(scores.values()), rtol=1e-4)


def test_nesting_is_leave_one_group_out(plain):
    records, choices = plain
    result = recommend(plan_of(records, asked()), n_draws=20, workers=1)
    groups = np.array(records.batches)
    folds = {fold.held_out: fold for fold in result.honest.folds}
    for train, left_out in LeaveOneGroupOut().split(groups, groups=groups):
        (b,) = left_out
        wanted = take(choices, train.tolist(), truths(records))
        fold = folds[groups[b]]
        assert (fold.schedule.ages_h, fold.schedule.specimens) == (wanted.ages_h, wanted.specimens)
        assert (fold.curve, fold.weighting) == wanted.joint
        np.testing.assert_allclose(fold.error, wanted.errors[b], atol=1e-6)
