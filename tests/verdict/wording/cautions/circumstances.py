"""Circumstances that give cause for no caution, and how a test changes them. No engine runs here."""

from __future__ import annotations

from collections.abc import Iterable
from types import SimpleNamespace
from typing import Any

import numpy as np

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Laboratory
from planner.terms.problems import Caution
from planner.terms.records import Break, CuringRecord
from planner.terms.results.check_condition import CheckCondition, TruthSource
from planner.terms.schedule import Schedule
from planner.verdict.wording.cautions.answer_cautions import answer_cautions
from planner.verdict.wording.cautions.circumstances import Circumstances
from planner.verdict.wording.cautions.geometry_cautions import geometry_cautions
from planner.verdict.wording.cautions.heat_cautions import heat_cautions
from planner.verdict.wording.cautions.machine_cautions import machine_cautions
from planner.verdict.wording.cautions.record_cautions import record_cautions
from planner.verdict.wording.cautions.temperature_cautions import temperature_cautions

AGES_H = (6.0, 24.0, 168.0, 672.0)
GROWN_MPA = (10.0, 20.0, 32.0, 40.0)
CYLINDER = "cylinder 100x200 mm"
ON_SITE = CheckCondition(TruthSource.SITE_CURED)
IN_THE_ROOM = CheckCondition(TruthSource.STANDARD_CURED)
Changed = dict[str, Any]  # dotted names with a double underscore
Case = tuple[str, Changed, Changed]  # code, circumstances just past its limit, circumstances just at it
Figures = tuple[str, Changed, tuple[str, ...]]  # code, circumstances, what its words say


def broken(
    batch: str = "B1", mix: str = "mix", geometry: str = CYLINDER, strengths: Iterable[float] = GROWN_MPA
) -> list[Break]:
    """One standard-cured specimen at every age."""
    return [
        Break(batch=batch, mix=mix, curing="standard", age_h=age, tested_h=age, strength_mpa=mpa, geometry=geometry)
        for age, mpa in zip(AGES_H, strengths, strict=True)
    ]


def record(temperature_c: Iterable[float], *, curing: str = "standard", batch: str = "B1") -> CuringRecord:
    """Hourly readings."""
    degrees = np.array(list(temperature_c), dtype=float)
    return CuringRecord(
        batch=batch, curing=curing, placement="", elapsed_h=np.arange(float(len(degrees))), temperature_c=degrees
    )


def warm_day(level_c: float, hours: int = 72) -> list[float]:
    """Own heat in the first day, then the room at a level that moves a little about its mean."""
    return [30.0] * 24 + [level_c + 0.5 * (-1) ** hour for hour in range(hours - 24)]


class Made(SimpleNamespace):
    """Plain values that know their geometry as real circumstances do."""

    geometry = Circumstances.geometry
    as_broken = Circumstances.as_broken


def about(**changed: Any) -> Any:
    """Circumstances that give cause for no caution, changed by dotted names with a double underscore."""
    cells = SimpleNamespace(
        ages_h=np.array(AGES_H),
        is_candidate=np.ones(4, dtype=bool),
        n_units=9,
        is_by_mix=False,
        checked_against="site-cured",
        checks=SimpleNamespace(
            condition=(ON_SITE,) * 4,
            target=np.array([0, 0, 1, 1]),
            view=np.array([0, 1, 0, 1]),
            truth_mpa=np.array([9.0, 11.0, 19.0, 21.0]),
        ),
        views=SimpleNamespace(batch=("B1", "B2")),
        target_waits_mpa=(None, None),
        target_ages_h=(12.0, 24.0),
        cv=np.full(4, 0.03),
        scatter=SimpleNamespace(pooled_cv=0.03, n_degrees=np.array([3.0])),
        typical_mpa=lambda: np.array(GROWN_MPA),
        settings=(MaturitySetting("equivalent age", 5000.0, 20.0),),
        cautions=(),
    )
    honest = SimpleNamespace(
        own_batch=SimpleNamespace(nested_rms=0.03, is_below_resolution=False, over_predicted_beyond_tolerance=0.0),
        next_batch=SimpleNamespace(
            rms=0.04,
            between_batch_cv=0.02,
            rms_by_trial_batches=(0.04, 0.035, 0.03),
            over_predicted_beyond_tolerance=0.0,
        ),
        safe_reading_factor=1.2,
        safe_reading_basis="next batch",
        safe_reading_unknown_because="",
    )
    made = Made(
        settings=SimpleNamespace(
            aggregate_mm=None,
            fibre_mm=None,
            target=SimpleNamespace(tolerance=0.10, assurance=0.90, geometry=""),
            prior=SimpleNamespace(hold_out="batch", standard_curing_c=20.0, geometry=None),
            mix_name="",
            laboratory=Laboratory(form_removal_h=4.0),
            choices=SimpleNamespace(specimens_per_age=(2, 4), ages_h=AGES_H),
            programme=SimpleNamespace(instrumented=2),
            programme_asked=SimpleNamespace(relies_on_records=False),
            site_temperature_c=None,
        ),
        records=SimpleNamespace(
            breaks=(*broken(), *broken("B2")), curing_records=(record(warm_day(20.0)),), cautions=()
        ),
        basis=SimpleNamespace(is_drawn=False, cautions=()),
        matrix=SimpleNamespace(n_fits=100, n_at_bound=0, n_unconverged=0, n_searched=1000),
        is_thinned=False,
        recommended=SimpleNamespace(
            is_extrapolating=False,
            schedule=Schedule(AGES_H, (3, 3, 3, 3)),
            maturity=MaturitySetting("equivalent age", 5000.0, 20.0),
        ),
        honest=honest,
        cells=cells,
        batches=("B1",),
        geometries=None,
    )
    for name, value in changed.items():
        *path, last = name.split("__")
        at = made
        for step in path:
            at = getattr(at, step)
        setattr(at, last, value)
    return made


def codes(found: Iterable[Caution]) -> list[str]:
    return [caution.code for caution in found]


def every(made: Any) -> list[Caution]:
    return [
        *answer_cautions(made),
        *record_cautions(made),
        *temperature_cautions(made),
        *heat_cautions(made),
        *machine_cautions(made),
        *geometry_cautions(made),
    ]


def machine(least_kn: float, most_kn: float) -> Laboratory:
    return Laboratory(form_removal_h=4.0, machine_kn=(least_kn, most_kn))


def given_past_its_limit(code: str, past: Changed, at: Changed) -> None:
    """A caution is given once just past its limit, and not at it."""
    assert codes(every(about(**past))).count(code) == 1
    assert code not in codes(every(about(**at)))


def says(code: str, changed: Changed, said: tuple[str, ...]) -> None:
    """The one caution of a code has these parts in its words."""
    (text,) = [caution.text for caution in every(about(**changed)) if caution.code == code]
    for part in said:
        assert part in text
