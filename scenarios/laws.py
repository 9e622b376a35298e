"""How the invented concretes grow: two reactions of different pace after a smooth set.

Strength in true equivalent age is the weighted sum of a fast reaction that runs out within hours and a slow
one that takes weeks. No curve the planner fits has that form, so none of them can be exactly right here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

KELVIN_AT_0_C = 273.15
REFERENCE_C = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthLaw:
    """The mean law of a mix and how its batches spread about it. Nothing here is fitted to anything."""

    ultimate_mpa: float  # strength after unlimited time
    fast_share: float  # part of it that the fast reaction gives
    fast_h: float  # pace of the fast reaction [h at 20 C]
    fast_power: float
    slow_h: float  # pace of the slow reaction: half of its strength is there [h at 20 C]
    slow_power: float
    set_h: float  # set, middle of the smooth start [h at 20 C]
    set_width_h: float  # width of that start [h at 20 C]
    q_k: float  # true temperature sensitivity Q of both reactions [K]
    ultimate_cv: float  # spread between batches, relative
    share_cv: float
    rate_cv: float
    set_cv: float
    slow_batch_share: float  # how many batches are slow ones (retarder overdosed, cold aggregate)
    slow_batch_rate: float  # pace of a slow batch, relative


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchLaws:
    """The laws of many batches of one mix, each array of shape ``(n_batches,)``."""

    mean: GrowthLaw
    ultimate_mpa: FloatArray
    fast_share: FloatArray
    rate: FloatArray  # pace relative to the mean law
    set_h: FloatArray  # [h at 20 C]

    def strength_mpa(self, equivalent_age_h: ArrayLike) -> FloatArray:
        """True strength [MPa] at true equivalent ages [h at 20 C].

        Ages of shape ``(n_ages,)`` serve every batch alike, of shape ``(n_batches, n_ages)`` each its own.
        Returns shape ``(n_batches, n_ages)``.
        """
        law = self.mean
        age = np.atleast_2d(np.asarray(equivalent_age_h, dtype=np.float64))
        width = law.set_width_h
        hardening_h = width * np.logaddexp(0.0, (age - self.set_h[:, None]) / width)
        paced_h = hardening_h * self.rate[:, None]
        fast = -np.expm1(-((paced_h / law.fast_h) ** law.fast_power))
        slow_pace = (paced_h / law.slow_h) ** law.slow_power
        slow = slow_pace / (1.0 + slow_pace)
        share = self.fast_share[:, None]
        grown: FloatArray = self.ultimate_mpa[:, None] * (share * fast + (1.0 - share) * slow)
        return grown


def mean_batch(law: GrowthLaw) -> BatchLaws:
    """One batch that grows exactly as the mean law says."""
    return BatchLaws(
        mean=law,
        ultimate_mpa=np.array([law.ultimate_mpa]),
        fast_share=np.array([law.fast_share]),
        rate=np.ones(1),
        set_h=np.array([law.set_h]),
    )


def draw_laws(law: GrowthLaw, n_batches: int, seed_words: tuple[int, ...]) -> BatchLaws:
    """Draw batches of a mix. Each quantity has its own stream: the first batches stay when more are drawn."""

    def spread(stream: int, cv: float) -> FloatArray:
        """Lognormal factors with median 1."""
        return np.exp(cv * np.random.default_rng((*seed_words, stream)).standard_normal(n_batches))

    is_slow = np.random.default_rng((*seed_words, 5)).random(n_batches) < law.slow_batch_share
    return BatchLaws(
        mean=law,
        ultimate_mpa=law.ultimate_mpa * spread(1, law.ultimate_cv),
        fast_share=np.clip(law.fast_share * spread(2, law.share_cv), 0.05, 0.95),
        rate=spread(3, law.rate_cv) * np.where(is_slow, law.slow_batch_rate, 1.0),
        set_h=law.set_h * spread(4, law.set_cv),
    )


def rate_factor(temperature_c: FloatArray, q_k: float) -> FloatArray:
    """How much faster than at 20 C both reactions run, any shape (Arrhenius form, Q in kelvin)."""
    factor: FloatArray = np.exp(-q_k * (1.0 / (temperature_c + KELVIN_AT_0_C) - 1.0 / (REFERENCE_C + KELVIN_AT_0_C)))
    return factor
