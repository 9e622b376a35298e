"""The runway programme for studies: its plan with any records, and fresh batches of the same concrete."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from planner.evidence.maturity_grid import refined
from planner.maturity import maturity_at
from planner.read import load_plan
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Plan
from planner.terms.records import Break, CuringRecord, Records
from scenarios.catalogue import RUNWAY_PANELS, Scenario
from scenarios.draws import FreshBatches, Programme, draw_batches
from tests.statistics.broken import Broken, first_means

FOLDER = Path(__file__).parents[2] / "scenarios" / "runway-panels"
OPENING = FOLDER / "opening-6h.toml"
TARGET_H = 6.0
STANDARD_C = 20.0
CONDITIONS = ("cool night", "warm night")
COUNTS = (2, 3, 4)


@cache
def opening_plan() -> Plan:
    """The plan of the repository with 6 h as its only target."""
    return load_plan(OPENING)


def plan_with(programme: Programme, plan: Plan) -> Plan:
    """The same plan with the records of another programme, as its files would be read."""
    breaks = tuple(
        Break(
            batch=row.batch, mix=row.mix, curing="site" if row.curing == "site" else "standard",
            age_h=float(row.age_h), tested_h=float(row.age_h), strength_mpa=row.strength_mpa,
            geometry=row.geometry, placement=row.placement, specimen=row.specimen,
        )
        for row in programme.breaks
    )  # fmt: skip
    readings: dict[tuple[str, str, str], list[tuple[float, float]]] = {}
    for row in programme.readings:
        key = (row.batch, row.curing, row.placement)
        readings.setdefault(key, []).append((row.elapsed_h, row.temperature_c))
    curing_records = tuple(
        CuringRecord(
            batch=batch, curing="site" if curing == "site" else "standard", placement=placement,
            elapsed_h=np.array(pairs)[:, 0], temperature_c=np.array(pairs)[:, 1],
        )
        for (batch, curing, placement), pairs in readings.items()
    )  # fmt: skip
    return replace(plan, records=Records(breaks=breaks, curing_records=curing_records))


def settings_of(plan: Plan) -> tuple[MaturitySetting, ...]:
    """Maturity settings a plan searches: those listed, and those half-way between them."""
    grid = plan.settings.maturity
    return refined(
        [MaturitySetting("equivalent age", q, grid.reference_c) for q in grid.equivalent_age_q_k]
        + [MaturitySetting("temperature-time", datum, grid.reference_c) for datum in grid.datum_c]
    )


def fresh_broken(n_batches: int, seed: int, settings: tuple[MaturitySetting, ...]) -> Broken:
    """Break fresh batches of the runway concrete; true strength beside the panels at 6 h on both nights."""
    return broken_of(RUNWAY_PANELS, n_batches, seed, settings, target_h=TARGET_H, conditions=CONDITIONS)


def broken_of(
    scenario: Scenario,
    n_batches: int,
    seed: int,
    settings: tuple[MaturitySetting, ...],
    *,
    target_h: float,
    conditions: tuple[str, ...],
) -> Broken:
    """Break fresh batches of any scenario's concrete; true strength at the target under the site's conditions."""
    batches = draw_batches(scenario, n_batches, seed)
    ages_h = np.array(scenario.standard_ages_h, dtype=np.float64)
    specimens_mpa = batches.specimens_mpa("standard", ages_h, max(COUNTS))
    at_target = np.array([target_h])
    return Broken(
        ages_h=ages_h,
        counts=COUNTS,
        mean_mpa=first_means(specimens_mpa, COUNTS),
        settings=settings,
        maturity_h=_maturity_h(batches, "standard", ages_h, settings, continued_c=STANDARD_C),
        check_maturity_h=np.concatenate(
            [_maturity_h(batches, name, at_target, settings, continued_c=None) for name in conditions], axis=2
        ),
        check_truth_mpa=np.concatenate([batches.true_strength(name, at_target) for name in conditions], axis=1),
    )


def maturities_h(batches: FreshBatches, ages_h: FloatArray, setting: MaturitySetting) -> FloatArray:
    """Maturity of standard-cured specimens by the loggers [h], ``(n_batches, n_ages)``."""
    return np.asarray(_maturity_h(batches, "standard", ages_h, (setting,), continued_c=STANDARD_C)[0])


def _maturity_h(
    batches: FreshBatches,
    condition: str,
    ages_h: FloatArray,
    settings: tuple[MaturitySetting, ...],
    *,
    continued_c: float | None,
) -> FloatArray:
    """Maturity by the loggers, not by the hidden truth, ``(n_settings, n_batches, n_ages)``."""
    times_h, temperatures_c = batches.readings_c(condition)
    return np.array(
        [
            [maturity_at(ages_h, times_h, row_c, setting, continued_c=continued_c) for row_c in temperatures_c]
            for setting in settings
        ]
    )
