"""Specimens of other geometries cast beside those of a programme: their strength is a law times that of the first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scenarios.draws import BreakRow, FreshBatches, Programme, exposures_of, within_test_cv
from scenarios.laws import FloatArray

GEOMETRIES = 50  # stream of random numbers
LEVEL_MPA = 40.0  # strength of the first geometry at which the ratios are stated


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherGeometry:
    """How a geometry relates to that of the scenario; invented like everything here."""

    geometry: str
    label: str  # of its specimens, after the batch
    number: int  # keeps the random streams apart
    ratio: float  # strength over that of the first geometry, at `LEVEL_MPA`
    power: float  # exponent of strength that the ratio changes with
    batch_cv: float  # departure of a batch from the relation, relative
    scatter_factor: float  # within-test scatter over that of the first geometry
    n_companions: int
    batches: tuple[int, ...]  # that have it, counted from 0


SLEEPER_GEOMETRIES = (
    OtherGeometry(
        geometry="cube 150 mm", label="L", number=1, ratio=0.97, power=0.0, batch_cv=0.010, scatter_factor=0.8,
        n_companions=2, batches=(0, 1, 2, 3, 4, 5, 6),
    ),
    OtherGeometry(
        geometry="cylinder 150x300 mm", label="C", number=2, ratio=0.84, power=0.04, batch_cv=0.020,
        scatter_factor=0.9, n_companions=2, batches=(0, 1, 3, 4, 6),
    ),
)  # fmt: skip


def true_ratio(truth: FreshBatches, other: OtherGeometry, strength_mpa: FloatArray) -> FloatArray:
    """Strength of the other geometry over that of the first, ``(n_batches, n_ages)`` as `strength_mpa`."""
    departure = np.random.default_rng((*truth.seed_words, GEOMETRIES, other.number)).standard_normal(truth.n_batches)
    batch = np.exp(other.batch_cv * departure)[:, None]
    return np.asarray(other.ratio * (strength_mpa / LEVEL_MPA) ** other.power * batch)


def other_rows(programme: Programme, others: tuple[OtherGeometry, ...]) -> tuple[BreakRow, ...]:
    """Rows of the other geometries at every age and in every climate that the batch was broken in."""
    return tuple(row for other in others for row in _rows(programme.truth, other))


def _rows(truth: FreshBatches, other: OtherGeometry) -> Iterator[BreakRow]:
    scenario = truth.scenario
    number = dict.fromkeys(other.batches, 0)
    for place, climate in enumerate(scenario.climates):
        ages_h = scenario.standard_ages_h if climate.curing == "standard" else scenario.site_ages_h
        first_mpa = truth.true_strength(climate.name, ages_h)
        true_mpa = first_mpa * true_ratio(truth, other, first_mpa)
        noise = np.random.default_rng((*truth.seed_words, GEOMETRIES, other.number, place)).standard_normal(
            (*true_mpa.shape, other.n_companions)
        )
        cv = other.scatter_factor * within_test_cv(scenario, ages_h)
        broken_mpa = true_mpa[:, :, None] * (1.0 + cv[None, :, None] * noise)
        for batch in other.batches:
            if climate.curing != "standard" and climate.name not in exposures_of(scenario, batch):
                continue
            for column, age_h in enumerate(ages_h):
                for strength_mpa in broken_mpa[batch, column]:
                    number[batch] += 1
                    label = f"{scenario.batch_prefix}{batch + 1}"
                    yield BreakRow(
                        batch=label,
                        mix=scenario.mix,
                        specimen=f"{label}-{other.label}{number[batch]:02d}",
                        geometry=other.geometry,
                        curing=climate.curing,
                        age_h=age_h,
                        strength_mpa=round(float(strength_mpa), 1),
                        placement=climate.placement,
                    )
