"""Small invented programmes, built in memory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.terms.plan.settings import Budget, ChoiceLimits, CurveName, MaturityGrid, Plan, Prior, Settings, Target
from planner.terms.records import Break, CuringRecord, Records
from planner.terms.schedule import Schedule

AGES_H = (6.0, 12.0, 24.0, 72.0, 168.0, 672.0)
TARGET_H = 12.0


def hyperbola_mpa(age_h, ultimate_mpa: float = 45.0, half_h: float = 20.0, offset_h: float = 2.0):
    """The law the invented batches follow, any shape."""
    since_h = np.asarray(age_h, dtype=np.float64) - offset_h
    return ultimate_mpa * since_h / (since_h + half_h)


def cell(batch: str, age_h: float, strengths_mpa: Sequence[float], **how: str) -> list[Break]:
    """Replicates of one batch at one age."""
    words = {"curing": "standard", "mix": "M", **how}
    return [
        Break(batch=batch, age_h=age_h, tested_h=age_h, strength_mpa=float(value), **words) for value in strengths_mpa
    ]


def room_record(batch: str, curing: str = "site", placement: str = "", degrees_c: float = 20.0) -> CuringRecord:
    """A temperature record of one level."""
    return CuringRecord(
        batch=batch, curing=curing, placement=placement, elapsed_h=np.array([0.0, 2000.0]),
        temperature_c=np.array([degrees_c, degrees_c]),
    )  # fmt: skip


def programme(
    *,
    n_batches: int = 4,
    ages_h: Sequence[float] = AGES_H,
    n_companions: int = 3,
    cv: float = 0.03,
    seed: int = 7,
    site_factor: float = 1.0,
    scale: float = 1.0,
    target_h: float = TARGET_H,
) -> Records:
    """Batches about one hyperbola, each with site-cured companions at the target in a room at 20 C."""
    rng = np.random.default_rng(seed)
    breaks: list[Break] = []
    records: list[CuringRecord] = []
    for b in range(n_batches):
        name = f"B{b + 1}"
        ultimate_mpa, half_h = 45.0 * np.exp(0.06 * rng.standard_normal()), 20.0 * np.exp(0.1 * rng.standard_normal())
        for age_h in ages_h:
            true_mpa = scale * hyperbola_mpa(age_h, ultimate_mpa, half_h, 0.3 * min(ages_h))
            breaks += cell(name, age_h, true_mpa * (1 + cv * rng.standard_normal(n_companions)))
        true_mpa = scale * site_factor * hyperbola_mpa(target_h, ultimate_mpa, half_h, 0.3 * min(ages_h))
        breaks += cell(name, target_h, true_mpa * (1 + cv * rng.standard_normal(n_companions)), curing="site")
        records.append(room_record(name))
    return Records(breaks=tuple(breaks), curing_records=tuple(records))


def settings(
    *,
    ages_h: Sequence[float] = AGES_H,
    targets_h: Sequence[float] = (TARGET_H,),
    fewest_ages: int = 3,
    most_ages: int = 4,
    specimens_per_age: tuple[int, int] = (2, 3),
    specimens: int = 9,
    curves: tuple[CurveName, ...] = ("hyperbolic", "piecewise linear in log age"),
    prior: Prior | None = None,
    compare: tuple[Schedule, ...] = (),
    **target: object,
) -> Settings:
    """Limits that leave a few dozen schedules."""
    return Settings(
        target=Target(ages_h=tuple(targets_h), tolerance=0.10, **target),
        choices=ChoiceLimits(
            ages_h=tuple(ages_h), fewest_ages=fewest_ages, most_ages=most_ages,
            specimens_per_age=specimens_per_age,
        ),
        budget=Budget(specimens=specimens),
        prior=prior or Prior(standard_curing_c=20.0),
        maturity=MaturityGrid(equivalent_age_q_k=(5000.0,), datum_c=()),
        curves=curves,
        compare=compare,
    )  # fmt: skip


def plan_of(records: Records, asked: Settings | None = None) -> Plan:
    """A plan in memory."""
    return Plan(settings=asked or settings(), records=records)
