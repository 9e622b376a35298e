"""Invented growth laws for studies of regret, at 20 C throughout, so that age stands for maturity.

None of them is a curve that the planner fits: the first is the exponential one, with a ripple where misfit
is asked for; the second hardens by a power of the time since set.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Budget, ChoiceLimits, Plan, Settings, Target
from planner.terms.records import Break, Records
from tests.statistics.broken import Broken, first_means

AGES_H = (6.0, 8.0, 16.0, 24.0, 48.0, 72.0, 168.0, 336.0, 672.0)
TARGET_H = 12.0
N_REPLICATES = 3
FEWEST_AGES, MOST_AGES = 3, 6
ULTIMATE_MPA, ULTIMATE_CV = 60.0, 0.08
BY_AGE = (MaturitySetting("age"),)

Growth = Callable[[np.random.Generator, int, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Law:
    """How batches grow: ``strength(generator, n_batches, ages_h)``, shape ``(n_batches, n_ages)``."""

    name: str
    number: int  # keeps the random streams apart
    strength: Growth


def _spread(generator: np.random.Generator, n_batches: int, middle: float, cv: float) -> FloatArray:
    """Quantities of batches, normal about the middle, ``(n_batches, 1)``."""
    return np.asarray(middle * (1.0 + cv * generator.standard_normal((n_batches, 1))))


@dataclass(frozen=True, slots=True)
class Rippled:
    """``Su exp(-(tau/t)^a) (1 + ripple sin(1.7 ln t + phase))``, each batch with its own phase.

    A value and not a closure, so that it travels between processes.
    """

    ripple: float

    def __call__(self, generator: np.random.Generator, n_batches: int, ages_h: FloatArray) -> FloatArray:
        """Draw batches and give their strengths, ``(n_batches, n_ages)``."""
        ultimate = _spread(generator, n_batches, ULTIMATE_MPA, ULTIMATE_CV)
        tau_h = _spread(generator, n_batches, 18.0, 0.12)
        power = _spread(generator, n_batches, 0.9, 0.08)
        phase = generator.uniform(0.0, 2.0 * np.pi, (n_batches, 1))
        wave = 1.0 + self.ripple * np.sin(1.7 * np.log(ages_h) + phase)
        return np.asarray(ultimate * np.exp(-((tau_h / ages_h) ** power)) * wave)


def after_set(generator: np.random.Generator, n_batches: int, ages_h: FloatArray) -> FloatArray:
    """``Su (1 - (1 + (t - set)/pace)^-q)``: hardening that slows down by a power of the time since set."""
    ultimate = _spread(generator, n_batches, ULTIMATE_MPA, ULTIMATE_CV)
    set_h = _spread(generator, n_batches, 3.5, 0.10)
    pace_h = _spread(generator, n_batches, 14.0, 0.12)
    power = _spread(generator, n_batches, 0.7, 0.08)
    return np.asarray(ultimate * (1.0 - (1.0 + (ages_h - set_h) / pace_h) ** -power))


SLOW_SHARE, SLOW_FACTOR, RATE_CV = 1.0 / 6.0, 1.30, 0.15


def in_rate(generator: np.random.Generator, n_batches: int, ages_h: FloatArray) -> FloatArray:
    """The exponential curve with batches that differ in rate, one in six slow, and hardly in ultimate strength."""
    ultimate = _spread(generator, n_batches, ULTIMATE_MPA, 0.04)
    is_slow = generator.uniform(size=(n_batches, 1)) < SLOW_SHARE
    tau_h = _spread(generator, n_batches, 18.0, RATE_CV) * np.where(is_slow, SLOW_FACTOR, 1.0)
    power = _spread(generator, n_batches, 0.9, 0.04)
    return np.asarray(ultimate * np.exp(-((tau_h / ages_h) ** power)))


LAWS = (
    Law("no misfit", 1, Rippled(0.0)),
    Law("misfit 4 %", 2, Rippled(0.04)),
    Law("power since set", 3, after_set),
    Law("differ in rate", 4, in_rate),
)


def within_test_cv(ages_h: FloatArray) -> FloatArray:
    """Scatter of replicates: 6 % at 6 h, 3 % at late ages."""
    return np.asarray(0.03 + 0.03 * np.exp(-(ages_h - 6.0) / 20.0))


def _specimens(
    law: Law, generator: np.random.Generator, n_batches: int, n_each: int = N_REPLICATES
) -> tuple[FloatArray, FloatArray]:
    """True strengths and specimens at the ages and, last, the target."""
    ages_h = np.array([*AGES_H, TARGET_H])
    truth_mpa = law.strength(generator, n_batches, ages_h)
    noise = generator.standard_normal((*truth_mpa.shape, n_each))
    return truth_mpa, truth_mpa[..., None] * (1.0 + within_test_cv(ages_h)[:, None] * noise)


def programme(law: Law, n_batches: int, seed: int) -> Plan:
    """Draw one prior programme: nine ages and the target, three replicates each."""
    generator = np.random.default_rng((31, law.number, n_batches, seed))
    _truth, specimens_mpa = _specimens(law, generator, n_batches)
    breaks = tuple(
        Break(
            batch=f"P{batch + 1}", mix="mix", curing="standard", age_h=age_h, tested_h=age_h,
            strength_mpa=float(strength_mpa),
        )
        for batch in range(n_batches)
        for column, age_h in enumerate((*AGES_H, TARGET_H))
        for strength_mpa in specimens_mpa[batch, column]
    )  # fmt: skip
    settings = Settings(
        target=Target(ages_h=(TARGET_H,), tolerance=0.10),
        choices=ChoiceLimits(
            ages_h=AGES_H, fewest_ages=FEWEST_AGES, most_ages=MOST_AGES,
            specimens_per_age=(N_REPLICATES, N_REPLICATES),
        ),
        budget=Budget(specimens=MOST_AGES * N_REPLICATES),
    )  # fmt: skip
    return Plan(settings=settings, records=Records(breaks=breaks))


def fresh_broken(law: Law, n_batches: int, seed: int, counts: tuple[int, ...] = (N_REPLICATES,)) -> Broken:
    """Break fresh batches of a law with so many specimens an age; true strength at the target."""
    generator = np.random.default_rng((37, law.number, n_batches, seed))
    truth_mpa, specimens_mpa = _specimens(law, generator, n_batches, max(counts))
    return Broken(
        ages_h=np.array(AGES_H),
        counts=counts,
        mean_mpa=first_means(specimens_mpa[:, :-1], counts),
        settings=BY_AGE,
        maturity_h=np.broadcast_to(np.array(AGES_H), (1, n_batches, len(AGES_H))),
        check_maturity_h=np.full((1, n_batches, 1), TARGET_H),
        check_truth_mpa=truth_mpa[:, -1:],
    )
