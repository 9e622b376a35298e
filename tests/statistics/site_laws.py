"""Invented programmes with site-cured companions, under laws that a bound on the own-batch error must survive.

The curve of a batch is never exact: growth ripples about the exponential law, each batch with its own phase.
The concrete beside the work departs from that of the curing room at equal maturity, and the laws differ in
how: normally, with heavy tails, far in few batches, or by its temperature (crossover), which maturity does
not see.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.maturity import constant_maturity
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Budget, ChoiceLimits, MaturityGrid, Plan, Prior, Settings, Target
from planner.terms.records import Break, Curing, CuringRecord, Records
from tests.statistics.broken import Broken, first_means
from tests.statistics.growth import Rippled, within_test_cv

AGES_H = (6.0, 8.0, 12.0, 16.0, 24.0, 48.0, 72.0, 168.0)
TARGET_H = 12.0
N_COMPANIONS = 3
COUNTS = (2, 3)
STANDARD_C, COOL_C, WARM_C, SITE_SD_C = 20.0, 13.0, 27.0, 2.0
PLACEMENTS = ("cool", "warm")
TRUE_Q_K = 5000.0
SETTINGS = tuple(MaturitySetting("equivalent age", q, STANDARD_C) for q in (4000.0, 5000.0, 6000.0))

Departure = Callable[[np.random.Generator, FloatArray], FloatArray]  # of the site's concrete, from its temperature


@dataclass(frozen=True, slots=True)
class SiteLaw:
    """How the concrete of the site departs from the curve at equal maturity, and how many batches tell."""

    name: str
    number: int  # keeps the random streams apart
    n_batches: int
    departure: Departure
    ripple: float = 0.03  # of growth about the exponential law
    is_on_both: bool = True  # companions on cool and warm nights of every batch; else on one of them at random
    between_c: tuple[float, float] | None = None  # site temperatures anywhere between; else near cool and warm


def normal(generator: np.random.Generator, site_c: FloatArray) -> FloatArray:
    """Normal with 3 %."""
    return np.asarray(0.03 * generator.standard_normal(site_c.shape))


def heavy(generator: np.random.Generator, site_c: FloatArray) -> FloatArray:
    """Student's t with 3 degrees of freedom, the same 3 % standard deviation; cut at 30 %."""
    return np.asarray(np.clip(0.03 / np.sqrt(3.0) * generator.standard_t(3, site_c.shape), -0.3, 0.3))


def little(generator: np.random.Generator, site_c: FloatArray) -> FloatArray:
    """Normal with 1 %, far less than the scatter of three companions."""
    return np.asarray(0.01 * generator.standard_normal(site_c.shape))


def slow(generator: np.random.Generator, site_c: FloatArray) -> FloatArray:
    """Normal with 2 %; one batch in ten is 8 % weaker beside the work."""
    is_slow = generator.random(site_c.shape) < 0.1
    return np.asarray(0.02 * generator.standard_normal(site_c.shape) - 0.08 * is_slow)


def crossover(generator: np.random.Generator, site_c: FloatArray) -> FloatArray:
    """0.4 % weaker for every degree above the standard temperature, stronger below; normal with 1.5 % besides."""
    return np.asarray(-0.004 * (site_c - STANDARD_C) + 0.015 * generator.standard_normal(site_c.shape))


def hot_crossover(generator: np.random.Generator, site_c: FloatArray) -> FloatArray:
    """1.5 % weaker for every degree above 24 C alone, so that few batches show it; normal with 1.5 % besides."""
    return np.asarray(-0.015 * np.maximum(site_c - 24.0, 0.0) + 0.015 * generator.standard_normal(site_c.shape))


LAWS = (
    SiteLaw("normal", 1, 8, normal),
    SiteLaw("t with 3 degrees of freedom", 2, 8, heavy),
    SiteLaw("one slow batch in ten", 3, 8, slow),
    SiteLaw("four batches", 4, 4, normal),
    SiteLaw("crossover", 5, 8, crossover),
    SiteLaw("crossover in the heat alone", 6, 8, hot_crossover),
    SiteLaw("little misfit, truth told by scattering companions", 8, 8, little, ripple=0.01),
    SiteLaw("normal, one placement a batch", 7, 8, normal, is_on_both=False),
    SiteLaw("one site temperature a batch, 10 to 30 C", 9, 8, normal, is_on_both=False, between_c=(10.0, 30.0)),
)


@dataclass(frozen=True, slots=True, eq=False)
class Cast:
    """Batches as cast: what is true of them, and what the press says."""

    site_c: FloatArray  # constant temperature beside the work, (n_batches, n_placements)
    site_truth_mpa: FloatArray  # at the target, (n_batches, n_placements)
    standard_mpa: FloatArray  # specimens, (n_batches, n_ages, N_COMPANIONS)
    site_mpa: FloatArray  # companions at the target, (n_batches, n_placements, N_COMPANIONS)


def cast(law: SiteLaw, generator: np.random.Generator, n_batches: int) -> Cast:
    """Cast and break some batches."""
    if law.between_c is None:
        site_c = np.array([COOL_C, WARM_C]) + SITE_SD_C * generator.standard_normal((n_batches, len(PLACEMENTS)))
    else:
        site_c = generator.uniform(*law.between_c, (n_batches, len(PLACEMENTS)))
    true = MaturitySetting("equivalent age", TRUE_Q_K, STANDARD_C)
    reached_h = np.array([[float(constant_maturity(TARGET_H, c, true)) for c in row] for row in site_c.tolist()])
    at_h = np.column_stack((np.broadcast_to(np.array(AGES_H), (n_batches, len(AGES_H))), reached_h))
    strength_mpa = Rippled(law.ripple)(generator, n_batches, at_h)
    site_truth_mpa = strength_mpa[:, len(AGES_H) :] * (1.0 + law.departure(generator, site_c))
    noise = generator.standard_normal((n_batches, len(AGES_H), N_COMPANIONS))
    site_noise = generator.standard_normal((*site_c.shape, N_COMPANIONS))
    return Cast(
        site_c,
        site_truth_mpa,
        strength_mpa[:, : len(AGES_H), None] * (1.0 + within_test_cv(np.array(AGES_H))[:, None] * noise),
        site_truth_mpa[..., None] * (1.0 + within_test_cv(np.array(TARGET_H)) * site_noise),
    )


def programme(law: SiteLaw, seed: int) -> Plan:
    """Draw the records of one programme and the plan that asks about them."""
    generator = np.random.default_rng((41, law.number, seed))
    batches = cast(law, generator, law.n_batches)
    breaks: list[Break] = []
    records: list[CuringRecord] = []
    for b in range(law.n_batches):
        name = f"S{b + 1}"
        for i, age_h in enumerate(AGES_H):
            breaks += _cell(name, "standard", "", age_h, batches.standard_mpa[b, i])
        placements = range(len(PLACEMENTS)) if law.is_on_both else [int(generator.integers(len(PLACEMENTS)))]
        for p in placements:
            breaks += _cell(name, "site", PLACEMENTS[p], TARGET_H, batches.site_mpa[b, p])
            records.append(
                CuringRecord(
                    batch=name, curing="site", placement=PLACEMENTS[p], elapsed_h=np.array([0.0, 200.0]),
                    temperature_c=np.full(2, batches.site_c[b, p]),
                )
            )  # fmt: skip
    return Plan(settings=settings(), records=Records(breaks=tuple(breaks), curing_records=tuple(records)))


def _cell(batch: str, curing: Curing, placement: str, age_h: float, strengths_mpa: FloatArray) -> list[Break]:
    return [
        Break(
            batch=batch, mix="mix", curing=curing, placement=placement, age_h=age_h, tested_h=age_h,
            strength_mpa=float(value),
        )
        for value in strengths_mpa
    ]  # fmt: skip


def settings() -> Settings:
    """Two or three specimens at three to five of eight ages."""
    return Settings(
        target=Target(ages_h=(TARGET_H,), tolerance=0.10),
        choices=ChoiceLimits(ages_h=AGES_H, fewest_ages=3, most_ages=5, specimens_per_age=COUNTS),
        budget=Budget(specimens=12),
        prior=Prior(standard_curing_c=STANDARD_C),
        maturity=MaturityGrid(equivalent_age_q_k=(4000.0, 5000.0, 6000.0), datum_c=()),
    )


def fresh(law: SiteLaw, n_batches: int, seed: int) -> Broken:
    """Batches that no programme has seen, with the true strength beside the work."""
    batches = cast(law, np.random.default_rng((43, law.number, seed)), n_batches)
    ages_h = np.array(AGES_H)
    check_h = [
        [[constant_maturity(TARGET_H, c, setting) for c in row] for row in batches.site_c.tolist()]
        for setting in SETTINGS
    ]
    return Broken(
        ages_h=ages_h,
        counts=COUNTS,
        mean_mpa=first_means(batches.standard_mpa, COUNTS),
        settings=SETTINGS,
        maturity_h=np.broadcast_to(ages_h, (len(SETTINGS), n_batches, len(ages_h))),
        check_maturity_h=np.asarray(check_h, dtype=np.float64),
        check_truth_mpa=batches.site_truth_mpa,
    )
