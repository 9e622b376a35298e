"""The invented scenarios: their laws, climates, ages and spreads. Fixed before anything was run on them."""

from __future__ import annotations

from dataclasses import dataclass

from scenarios.climates import Climate
from scenarios.laws import GrowthLaw

SEED = 20270301  # of every file in this folder
DAY_H = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One invented programme of a laboratory."""

    name: str
    number: int  # keeps the random streams of the scenarios apart
    mix: str
    geometry: str
    batch_prefix: str
    law: GrowthLaw
    climates: tuple[Climate, ...]  # standard curing first
    n_batches: int
    standard_ages_h: tuple[float, ...]
    site_ages_h: tuple[float, ...]
    n_companions: int
    scatter_by_age: tuple[tuple[float, float], ...]  # (age [h], within-test CV), straight in log age between
    exposures: tuple[tuple[str, ...], ...]  # site climates of batch 1, 2, ..., repeated in turn
    slow_batch: int | None = None  # counted from 0: slow for certain in the files
    lost_specimen: tuple[int, float] | None = None  # (batch, standard age [h]) with one companion fewer
    wild_break: tuple[int, float, float] | None = None  # (batch, standard age [h], factor on its strength)


def _curing_room(*, placing_c: float, self_heating_c: float, heating_peak_h: float) -> Climate:
    return Climate(
        name="standard",
        curing="standard",
        placement="",
        surroundings_c=20.0,
        surroundings_sd_c=0.0,
        placing_c=placing_c,
        placing_sd_c=1.5,
        self_heating_c=self_heating_c,
        self_heating_sd_c=0.8,
        heating_peak_h=heating_peak_h,
        swing_c=0.0,
        lag_h=4.0,
        casting_hour=22.0,
        logged_until_h=7 * DAY_H,
    )


def _panel_night(name: str, *, surroundings_c: float, placing_c: float, swing_c: float) -> Climate:
    return Climate(
        name=name,
        curing="site",
        placement=name,
        surroundings_c=surroundings_c,
        surroundings_sd_c=1.5,
        placing_c=placing_c,
        placing_sd_c=1.2,
        self_heating_c=6.0,
        self_heating_sd_c=0.8,
        heating_peak_h=4.0,
        swing_c=swing_c,
        lag_h=4.0,
        casting_hour=22.0,
        logged_until_h=3 * DAY_H + 2.0,
    )


RUNWAY_PANELS = Scenario(
    name="runway-panels",
    number=1,
    mix="rapid panel mix",
    geometry="cylinder 100x200 mm",
    batch_prefix="R",
    law=GrowthLaw(
        ultimate_mpa=68.0,
        fast_share=0.36,
        fast_h=2.9,
        fast_power=1.2,
        slow_h=110.0,
        slow_power=0.85,
        set_h=1.5,
        set_width_h=0.25,
        q_k=4700.0,
        ultimate_cv=0.07,
        share_cv=0.05,
        rate_cv=0.10,
        set_cv=0.08,
        slow_batch_share=1 / 9,
        slow_batch_rate=0.75,
    ),
    climates=(
        _curing_room(placing_c=21.0, self_heating_c=6.0, heating_peak_h=4.0),
        _panel_night("cool night", surroundings_c=12.0, placing_c=16.0, swing_c=2.5),
        _panel_night("warm night", surroundings_c=26.5, placing_c=27.0, swing_c=3.5),
    ),
    n_batches=9,
    standard_ages_h=(4, 6, 8, 12, 24, 48, 72, 168, 336, 672),
    site_ages_h=(6, 24, 72),
    n_companions=3,
    scatter_by_age=((6, 0.06), (672, 0.03)),
    exposures=(("cool night", "warm night"), ("cool night",), ("warm night",)),
    slow_batch=5,
    lost_specimen=(2, 48),
    wild_break=(7, 168, 0.68),
)

TUNNEL_SEGMENTS = Scenario(
    name="tunnel-segments",
    number=2,
    mix="segment mix",
    geometry="cube 100 mm",
    batch_prefix="T",
    law=GrowthLaw(
        ultimate_mpa=72.0,
        fast_share=0.42,
        fast_h=9.5,
        fast_power=1.35,
        slow_h=150.0,
        slow_power=0.9,
        set_h=4.2,
        set_width_h=0.6,
        q_k=4300.0,
        ultimate_cv=0.06,
        share_cv=0.05,
        rate_cv=0.09,
        set_cv=0.08,
        slow_batch_share=0.1,
        slow_batch_rate=0.8,
    ),
    climates=(
        _curing_room(placing_c=22.0, self_heating_c=3.5, heating_peak_h=11.0),
        Climate(
            name="casting hall",
            curing="site",
            placement="casting hall",
            surroundings_c=17.0,
            surroundings_sd_c=3.0,
            placing_c=20.0,
            placing_sd_c=1.5,
            self_heating_c=6.0,
            self_heating_sd_c=1.0,
            heating_peak_h=11.0,
            swing_c=1.5,
            lag_h=5.0,
            casting_hour=14.0,
            logged_until_h=26.0,
        ),
    ),
    n_batches=5,
    standard_ages_h=(8, 10, 14, 18, 24, 72, 168, 672),
    site_ages_h=(14,),
    n_companions=3,
    scatter_by_age=((8, 0.055), (672, 0.03)),
    exposures=(("casting hall",),),
)

STARTER_SLAB = Scenario(
    name="starter-slab",
    number=3,
    mix="everyday slab mix",
    geometry="cylinder 150x300 mm",
    batch_prefix="S",
    law=GrowthLaw(
        ultimate_mpa=47.0,
        fast_share=0.30,
        fast_h=13.0,
        fast_power=1.3,
        slow_h=170.0,
        slow_power=0.95,
        set_h=5.5,
        set_width_h=0.8,
        q_k=4600.0,
        ultimate_cv=0.07,
        share_cv=0.06,
        rate_cv=0.09,
        set_cv=0.08,
        slow_batch_share=0.1,
        slow_batch_rate=0.8,
    ),
    climates=(
        _curing_room(placing_c=20.0, self_heating_c=2.5, heating_peak_h=13.0),
        Climate(
            name="slab edge",
            curing="site",
            placement="slab edge",
            surroundings_c=14.0,
            surroundings_sd_c=3.0,
            placing_c=18.0,
            placing_sd_c=1.5,
            self_heating_c=4.0,
            self_heating_sd_c=0.8,
            heating_peak_h=13.0,
            swing_c=3.0,
            lag_h=5.0,
            casting_hour=10.0,
            logged_until_h=3 * DAY_H + 2.0,
        ),
    ),
    n_batches=6,
    standard_ages_h=(12, 16, 24, 48, 72, 168, 672),
    site_ages_h=(16, 72),
    n_companions=3,
    scatter_by_age=((12, 0.05), (672, 0.03)),
    exposures=(("slab edge",),),
)

SLEEPERS = Scenario(
    name="sleepers",
    number=4,
    mix="sleeper mix",
    geometry="cube 100 mm",
    batch_prefix="P",
    law=GrowthLaw(
        ultimate_mpa=84.0,
        fast_share=0.45,
        fast_h=7.0,
        fast_power=1.3,
        slow_h=140.0,
        slow_power=0.9,
        set_h=3.5,
        set_width_h=0.5,
        q_k=4500.0,
        ultimate_cv=0.04,
        share_cv=0.03,
        rate_cv=0.05,
        set_cv=0.06,
        slow_batch_share=0.1,
        slow_batch_rate=0.85,
    ),
    climates=(
        _curing_room(placing_c=23.0, self_heating_c=4.0, heating_peak_h=9.0),
        Climate(
            name="long line",
            curing="site",
            placement="long line",
            surroundings_c=20.0,
            surroundings_sd_c=1.5,
            placing_c=23.0,
            placing_sd_c=1.5,
            self_heating_c=8.0,
            self_heating_sd_c=1.0,
            heating_peak_h=9.0,
            swing_c=1.0,
            lag_h=5.0,
            casting_hour=15.0,
            logged_until_h=26.0,
        ),
    ),
    n_batches=7,
    standard_ages_h=(8, 10, 12, 16, 20, 24, 72, 168),
    site_ages_h=(16,),
    n_companions=3,
    scatter_by_age=((8, 0.045), (168, 0.025)),
    exposures=(("long line",),),
)

SCENARIOS = {scenario.name: scenario for scenario in (RUNWAY_PANELS, TUNNEL_SEGMENTS, STARTER_SLAB, SLEEPERS)}
