"""Small programmes of a known population, broken on paper."""

from __future__ import annotations

import numpy as np

from planner.terms.plan.settings import Budget, ChoiceLimits, MaturityGrid, Prior, Settings, Target
from planner.terms.records import Break, Records

AGES_H = (24.0, 72.0, 168.0, 672.0)


def plan(
    *,
    targets_h: tuple[float, ...] = (6.0,),
    strengths_mpa: tuple[float | None, ...] = (),
    ages_h: tuple[float, ...] = (6.0, 12.0, 24.0, 72.0, 168.0, 672.0),
    site_c: tuple[float, float] | None = None,
    final_set_h: float = 4.0,
    least_mpa: float = 0.0,
    **prior: object,
) -> Settings:
    """A plan around a few ages."""
    return Settings(
        target=Target(ages_h=targets_h, strengths_mpa=strengths_mpa, tolerance=0.10),
        choices=ChoiceLimits(
            ages_h=ages_h, fewest_ages=3, most_ages=5, specimens_per_age=(2, 4), least_strength_mpa=least_mpa
        ),
        budget=Budget(specimens=15),
        prior=Prior(**{"standard_curing_c": 20.0, **prior}),  # type: ignore[arg-type]
        maturity=MaturityGrid(),
        final_set_h=final_set_h,
        site_temperature_c=site_c,
    )


def hyperbola_mpa(age_h: np.ndarray, *, ultimate: np.ndarray, half_h: np.ndarray, set_h: float) -> np.ndarray:
    """Sharp hyperbola with an offset, ``(n_batches, n_ages)``."""
    since = np.maximum(age_h - set_h, 1e-9)
    return ultimate[:, None] * since / (since + half_h[:, None])


def programme(
    seed: int,
    *,
    n_batches: int = 4,
    ages_h: tuple[float, ...] = AGES_H,
    ultimate_mpa: float = 60.0,
    half_h: float = 30.0,
    set_h: float = 4.0,
    between: float = 0.08,
    cv: float = 0.03,
    n_specimens: int = 3,
) -> Records:
    """Breaks of batches that grow by a hyperbola whose strength and pace spread between batches."""
    generator = np.random.default_rng(seed)
    ages = np.array(ages_h)
    true = hyperbola_mpa(
        ages,
        ultimate=ultimate_mpa * np.exp(between * generator.standard_normal(n_batches)),
        half_h=half_h * np.exp(between * generator.standard_normal(n_batches)),
        set_h=set_h,
    )
    broken = true[:, :, None] * (1.0 + cv * generator.standard_normal((*true.shape, n_specimens)))
    return Records(
        breaks=tuple(
            Break(
                batch=f"B{b + 1}",
                mix="M",
                curing="standard",
                age_h=float(age),
                tested_h=float(age),
                strength_mpa=float(broken[b, i, k]),
            )
            for b in range(n_batches)
            for i, age in enumerate(ages)
            for k in range(n_specimens)
        )
    )
