"""How often the bounds hold over many simulated programmes.

With 2,000 programmes the standard error of a coverage near .95 is .005. The limits stand four standard errors
or more from the exact coverage, or from that measured with another seed: a false alarm in less than 1 of
10,000 seeds.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.verdict.selection.tie_rule import apply_rule, bootstrap_rule
from planner.verdict.statistics.bootstrap_weights import bootstrap_weights, leave_one_out_counts
from planner.verdict.statistics.coverage_bounds import share_inside_lower
from planner.verdict.statistics.sign_flip import sign_flip
from planner.verdict.statistics.tolerance_bounds import reach, rms_upper_bound, safe_reading_factor

pytestmark = pytest.mark.slow
N_PROGRAMMES = 2_000


@pytest.mark.parametrize("bias", [0.0, 0.03])
@pytest.mark.parametrize("n_batches", [4, 8])
def test_rms_bound_covers(n_batches: int, bias: float) -> None:
    generator = np.random.default_rng(21)
    errors = generator.normal(bias, 0.04, (N_PROGRAMMES, n_batches))
    covered = np.mean([rms_upper_bound(row) >= np.hypot(bias, 0.04) for row in errors])
    # exact .95 without a bias, above with one
    assert covered >= 0.93
    if bias == 0.0:
        assert covered <= 0.97


@pytest.mark.parametrize("n_batches", [4, 8])
@pytest.mark.parametrize("bias", [0.0, 0.05])
def test_share_inside_covers(n_batches: int, bias: float) -> None:
    generator = np.random.default_rng(22)
    errors = generator.normal(bias, 0.05, (400, n_batches))
    true_share = stats.norm.cdf((0.1 - bias) / 0.05) - stats.norm.cdf((-0.1 - bias) / 0.05)
    bounds = np.array([share_inside_lower(row, tolerance=0.1) for row in errors])
    # 400 programmes: standard error .011
    assert np.mean(bounds <= true_share) >= 0.90
    # and it is not empty caution: it grows with the batches
    assert np.median(bounds) > (0.2 if n_batches == 4 else 0.4)


@pytest.mark.parametrize("n_batches", [4, 8])
def test_safe_reading_covers(n_batches: int) -> None:
    generator = np.random.default_rng(23)
    errors = generator.normal(0.02, 0.06, (N_PROGRAMMES, n_batches))
    factors = np.array([safe_reading_factor(row, assurance=0.9, confidence=0.9) for row in errors])
    # the reading is f times the factor; the strength is there when 1 + error is at most the factor
    is_safe = stats.norm.cdf((factors - 1 - 0.02) / 0.06) >= 0.9
    # exact .90 where the bound is not cut at 0; standard error .0067
    assert 0.87 <= np.mean(is_safe) <= 0.93


@pytest.mark.parametrize("n_batches", [4, 8])
def test_reach_covers(n_batches: int) -> None:
    generator = np.random.default_rng(24)
    errors = generator.normal(0.02, 0.05, (N_PROGRAMMES, n_batches))
    reaches = np.array([reach(row, content=0.9, confidence=0.95) for row in errors])
    held = stats.norm.cdf((reaches - 0.02) / 0.05) - stats.norm.cdf((-reaches - 0.02) / 0.05)
    # at least .95, since it is centred on 0 and not on the mean
    assert np.mean(held >= 0.9) >= 0.93


def test_sign_flip_keeps_its_level() -> None:
    generator = np.random.default_rng(25)
    alarms = [sign_flip(row).p <= 0.05 for row in generator.standard_t(3, (N_PROGRAMMES, 8))]
    # at most .05, here 6/128 = .047; standard error .005
    assert 0.025 <= np.mean(alarms) <= 0.07


def programme(generator: np.random.Generator, n_batches: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Sixty unlike choices in some batches: errors, variances, true mean squares, cheapness."""
    bias = generator.normal(0.0, 0.02, 60)
    pull = generator.normal(1.0, 0.5, 60)
    variance = generator.uniform(0.0002, 0.0012, 60)
    shared = generator.normal(0.0, 0.02, n_batches)
    own = generator.normal(0.0, 1.0, (60, n_batches)) * np.sqrt(variance)[:, None]
    errors = bias[:, None] + pull[:, None] * shared + own
    truth = bias**2 + (0.02 * pull) ** 2 + variance
    return (
        errors,
        np.repeat(variance[:, None], n_batches, axis=1),
        truth,
        np.argsort(variance)[::-1].argsort(),
    )


def nested_and_apparent(n_batches: int, n_programmes: int) -> np.ndarray:
    """Share of programmes whose recommended choice is truly below its nested bound, and its apparent one."""
    generator = np.random.default_rng(26)
    covered = np.empty((n_programmes, 2))
    counts = np.concatenate((leave_one_out_counts(n_batches), np.ones((1, n_batches), dtype=np.int64)))
    for index in range(n_programmes):
        errors, variance, truth, rank = programme(generator, n_batches)
        _, chosen = apply_rule(errors**2 + 2 * variance, variance, errors > 0.1, rank, counts)
        nested = errors[chosen[:-1], np.arange(n_batches)]
        rms = np.sqrt(truth[chosen[-1]])
        covered[index] = rms_upper_bound(nested) >= rms, rms_upper_bound(errors[chosen[-1]]) >= rms
    return np.mean(covered, axis=0)


@pytest.mark.parametrize("n_batches", [4, 8])
def test_rms_bound_covers_the_choosing_only_when_nested(n_batches: int) -> None:
    nested, apparent = nested_and_apparent(n_batches, N_PROGRAMMES)
    # Not the nominal .95: the folds choose differently, and the one choice made from all batches may be worse
    # than theirs. Measured .88 here, .88 to .92 over seven mixtures of likeness and bias; apparent .66 to .84
    assert nested >= 0.85
    assert apparent < nested - 0.05


def test_bootstrap_judges_the_rule_fairly() -> None:
    generator = np.random.default_rng(27)
    counts, probability = bootstrap_weights(5)
    everything = np.ones((1, 5), dtype=np.int64)
    ratios = []
    for _ in range(400):
        errors, variance, truth, rank = programme(generator, 5)
        loss, over = errors**2 + 2 * variance, errors > 0.1
        verdict = bootstrap_rule(loss, variance, errors**2, over, rank, counts=counts, probability=probability)
        _, chosen = apply_rule(loss, variance, over, rank, everything)
        apparent = np.mean(errors[chosen[0]] ** 2)
        ratios.append((verdict.mean_square, apparent, truth[chosen[0]]))
    bootstrap, apparent, true = np.mean(ratios, axis=0)
    # measured 1.13 (worlds train on fewer batches than there are) and .42
    assert apparent < 0.8 * true
    assert 0.95 * true < bootstrap < 1.5 * true
