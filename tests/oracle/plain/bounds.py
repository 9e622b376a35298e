"""What few batches allow to be said, from distributions in scipy.stats and draws."""

from __future__ import annotations

import math

import numpy as np
from scipy import stats


def true_rms_bound(rms: float, noise: float, left: float, n: int, level: float = 0.95) -> float:
    """Degrees of freedom from mean and variance of the sum: own error n, noise n / left, squares of normals."""
    variance_of_sum = 2.0 * (rms**4 + left * (noise**2 + 2.0 * noise * rms**2)) / n
    degrees = 2.0 * (rms**2 + noise) ** 2 / variance_of_sum
    return math.sqrt((rms**2 + noise) * degrees / stats.chi2.ppf(1.0 - level, degrees) - noise)


def one_sided_factor(n: int, content: float, confidence: float) -> float:
    """Noncentral t over the root of n."""
    return float(stats.nct.ppf(confidence, n - 1, stats.norm.ppf(content) * math.sqrt(n)) / math.sqrt(n))


def safe_factor(signed, *, assurance: float, confidence: float = 0.90) -> float:
    signed = np.asarray(signed)
    reach = signed.mean() + one_sided_factor(len(signed), assurance, confidence) * signed.std(ddof=1)
    return 1.0 + max(0.0, float(reach))


def share_inside_lower(signed, tolerance: float, *, seed: int = 5, n: int = 60_000) -> float:
    """5 % quantile of the share inside over means and spreads that the batches leave possible, by draws.

    Standard error of the quantile below .003 for spreads near the tolerance; the seed is fixed.
    """
    signed = np.asarray(signed)
    generator = np.random.default_rng(seed)
    spread = signed.std(ddof=1) * np.sqrt((len(signed) - 1) / generator.chisquare(len(signed) - 1, n))
    mean = signed.mean() - generator.standard_normal(n) * spread / math.sqrt(len(signed))
    shares = stats.norm.cdf((tolerance - mean) / spread) - stats.norm.cdf((-tolerance - mean) / spread)
    return float(np.quantile(shares, 0.05))


def share_inside_lower_at(share: float, n_batches: int) -> float:
    """The same for centred errors of n batches, as wide as normal ones of which this share is within 1."""
    pattern = np.linspace(-1.0, 1.0, n_batches)
    return share_inside_lower(pattern / pattern.std(ddof=1) / stats.norm.ppf((1.0 + share) / 2.0), 1.0)


def share_inside_lower_free(n: int, n_missed: int) -> float:
    """Clopper and Pearson's lower bound."""
    return 0.0 if n_missed == n else float(stats.beta.ppf(0.05, n - n_missed, n_missed + 1))


def order_quantile(values, share: float) -> float:
    """The order statistic that a further value stays below with this chance."""
    ordered = sorted(values)
    return ordered[min(math.ceil(share * (len(ordered) + 1)), len(ordered)) - 1]
