"""Batches with their hidden truth, and the rows a laboratory would have written about them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from scenarios.catalogue import SCENARIOS, Scenario
from scenarios.climates import Climate, Exposure, draw_exposure, reading_times_h
from scenarios.laws import BatchLaws, FloatArray, draw_laws

FRESH, PROGRAMME = 1, 2  # streams: fresh batches never repeat those of a programme with the same seed
LAWS, EXPOSURES, SPECIMENS, READINGS = 10, 20, 30, 40
LOGGER_NOISE_C = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FreshBatches:
    """Batches whose truth is known in every climate of the scenario, whether or not specimens lay there."""

    scenario: Scenario
    laws: BatchLaws
    exposures: tuple[Exposure, ...]  # in the order of `scenario.climates`
    seed_words: tuple[int, ...]

    @property
    def n_batches(self) -> int:
        return len(self.laws.rate)

    @property
    def conditions(self) -> tuple[str, ...]:
        """Names of the climates: ``standard`` first, then those on site."""
        return tuple(climate.name for climate in self.scenario.climates)

    def temperature_c(self, condition: str, elapsed_h: ArrayLike) -> FloatArray:
        """True temperature [C], shape ``(n_batches, n_times)``."""
        return self._exposure(condition).temperature_c(_ages(elapsed_h))

    def equivalent_age_h(self, condition: str, age_h: ArrayLike, *, q_k: float | None = None) -> FloatArray:
        """Equivalent age [h at 20 C], shape ``(n_batches, n_ages)``, at the true Q unless one is given."""
        return self._exposure(condition).equivalent_age_h(_ages(age_h), q_k or self.laws.mean.q_k)

    def strength_at_equivalent_age(self, equivalent_age_h: ArrayLike) -> FloatArray:
        """True strength [MPa] at true equivalent ages, shape ``(n_batches, n_ages)``."""
        return self.laws.strength_mpa(equivalent_age_h)

    def true_strength(self, condition: str, age_h: ArrayLike) -> FloatArray:
        """True strength [MPa] at nominal ages in one climate, shape ``(n_batches, n_ages)``."""
        return self.laws.strength_mpa(self.equivalent_age_h(condition, age_h))

    def readings_c(self, condition: str) -> tuple[FloatArray, FloatArray]:
        """What the logger wrote: times ``(n_readings,)`` and temperatures ``(n_batches, n_readings)``."""
        number = self.conditions.index(condition)
        times_h = reading_times_h(self.scenario.climates[number])
        true_c = self.exposures[number].temperature_c(times_h)
        noise = np.random.default_rng((*self.seed_words, READINGS, number)).standard_normal(true_c.shape)
        return times_h, np.round(true_c + LOGGER_NOISE_C * noise, 1)

    def specimens_mpa(self, condition: str, age_h: ArrayLike, n_specimens: int, *, repeat: int = 0) -> FloatArray:
        """Strengths of specimens as broken [MPa], shape ``(n_batches, n_ages, n_specimens)``.

        The same question gives the same breaks; another `repeat` gives other specimens of the same concrete.
        """
        ages_h = _ages(age_h)
        truth = self.true_strength(condition, ages_h)
        number = self.conditions.index(condition)
        rng = np.random.default_rng((*self.seed_words, SPECIMENS, number, repeat))
        scatter = within_test_cv(self.scenario, ages_h)[None, :, None]
        broken: FloatArray = truth[:, :, None] * (1.0 + scatter * rng.standard_normal((*truth.shape, n_specimens)))
        return broken

    def _exposure(self, condition: str) -> Exposure:
        if condition not in self.conditions:
            raise ValueError(f"No condition {condition!r}. Known: {', '.join(self.conditions)}.")
        return self.exposures[self.conditions.index(condition)]


class BreakRow(NamedTuple):
    """One row of a break file."""

    batch: str
    mix: str
    specimen: str
    geometry: str
    curing: str
    age_h: float
    strength_mpa: float
    placement: str


class ReadingRow(NamedTuple):
    """One row of a temperature file."""

    batch: str
    curing: str
    placement: str
    elapsed_h: float
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Programme:
    """What a laboratory wrote down, and the truth behind it."""

    breaks: tuple[BreakRow, ...]
    readings: tuple[ReadingRow, ...]
    truth: FreshBatches  # the batches of the rows, in their order


def within_test_cv(scenario: Scenario, age_h: ArrayLike) -> FloatArray:
    """Scatter of companions, relative, straight in log age and constant beyond the stated ages."""
    stated_h, stated_cv = zip(*scenario.scatter_by_age, strict=True)
    scatter: FloatArray = np.interp(np.log(_ages(age_h)), np.log(stated_h), stated_cv)
    return scatter


def draw_batches(scenario: Scenario | str, n_batches: int, seed: int, *, stream: int = FRESH) -> FreshBatches:
    """Draw batches from the population of a scenario. Thousands at once are fine."""
    chosen = SCENARIOS[scenario] if isinstance(scenario, str) else scenario
    words = (seed, chosen.number, stream)
    return FreshBatches(
        scenario=chosen,
        laws=draw_laws(chosen.law, n_batches, (*words, LAWS)),
        exposures=tuple(
            draw_exposure(climate, n_batches, (*words, EXPOSURES, number))
            for number, climate in enumerate(chosen.climates)
        ),
        seed_words=words,
    )


def draw_records(
    scenario: Scenario | str, seed: int, n_batches: int | None = None, *, has_oddities: bool = False
) -> Programme:
    """Draw a prior programme as rows.

    With `has_oddities` exactly one batch is the slow one, and the scenario's lost specimen and wild break are
    in it, as in the files of the repository. Without them the batches come from the same population as
    those of `draw_batches`, which is what a coverage study needs.
    """
    chosen = SCENARIOS[scenario] if isinstance(scenario, str) else scenario
    n_drawn = chosen.n_batches if n_batches is None else n_batches
    ordinary = replace(chosen, law=replace(chosen.law, slow_batch_share=0.0)) if has_oddities else chosen
    truth = draw_batches(ordinary, n_drawn, seed, stream=PROGRAMME)
    if has_oddities and chosen.slow_batch is not None and chosen.slow_batch < n_drawn:
        rate = truth.laws.rate.copy()
        rate[chosen.slow_batch] *= chosen.law.slow_batch_rate
        truth = replace(truth, laws=replace(truth.laws, rate=rate))
    return Programme(breaks=_break_rows(truth, has_oddities=has_oddities), readings=_reading_rows(truth), truth=truth)


def exposures_of(scenario: Scenario, batch: int) -> tuple[str, ...]:
    """Site climates in which companions of a batch (counted from 0) lay."""
    return scenario.exposures[batch % len(scenario.exposures)]


def _break_rows(truth: FreshBatches, *, has_oddities: bool) -> tuple[BreakRow, ...]:
    scenario = truth.scenario
    broken_mpa = {
        climate.name: truth.specimens_mpa(climate.name, _tested_ages(scenario, climate.curing), scenario.n_companions)
        for climate in scenario.climates
    }
    rows: list[BreakRow] = []
    for batch in range(truth.n_batches):
        cells = [
            (climate, age_h, broken_mpa[climate.name][batch, column])
            for climate in _climates_of(scenario, batch)
            for column, age_h in enumerate(_tested_ages(scenario, climate.curing))
        ]
        number = 0
        for climate, age_h, companions_mpa in cells:
            if has_oddities and climate.curing == "standard":
                companions_mpa = _with_oddities(scenario, batch, age_h, companions_mpa)
            for strength_mpa in companions_mpa:
                number += 1
                rows.append(
                    BreakRow(
                        batch=_batch_label(scenario, batch),
                        mix=scenario.mix,
                        specimen=f"{_batch_label(scenario, batch)}-{number:02d}",
                        geometry=scenario.geometry,
                        curing=climate.curing,
                        age_h=age_h,
                        strength_mpa=round(float(strength_mpa), 1),
                        placement=climate.placement,
                    )
                )
    return tuple(rows)


def _with_oddities(scenario: Scenario, batch: int, age_h: float, companions_mpa: FloatArray) -> FloatArray:
    """The companions of one standard-cured cell after the mishaps of the scenario, if one fell on it."""
    if scenario.lost_specimen == (batch, age_h):
        return companions_mpa[:-1]
    if scenario.wild_break is not None and scenario.wild_break[:2] == (batch, age_h):
        return np.append(companions_mpa[:-1], companions_mpa[-1] * scenario.wild_break[2])
    return companions_mpa


def _reading_rows(truth: FreshBatches) -> tuple[ReadingRow, ...]:
    scenario = truth.scenario
    logged = {climate.name: truth.readings_c(climate.name) for climate in scenario.climates}
    return tuple(
        ReadingRow(
            batch=_batch_label(scenario, batch),
            curing=climate.curing,
            placement=climate.placement,
            elapsed_h=float(elapsed_h),
            temperature_c=float(temperature_c),
        )
        for batch in range(truth.n_batches)
        for climate in _climates_of(scenario, batch)
        for elapsed_h, temperature_c in zip(logged[climate.name][0], logged[climate.name][1][batch], strict=True)
    )


def _climates_of(scenario: Scenario, batch: int) -> tuple[Climate, ...]:
    """Climates in which specimens of a batch lay: the curing room always, then its sites."""
    sites = exposures_of(scenario, batch)
    return tuple(climate for climate in scenario.climates if climate.curing == "standard" or climate.name in sites)


def _batch_label(scenario: Scenario, batch: int) -> str:
    return f"{scenario.batch_prefix}{batch + 1}"


def _tested_ages(scenario: Scenario, curing: str) -> tuple[float, ...]:
    return scenario.standard_ages_h if curing == "standard" else scenario.site_ages_h


def _ages(age_h: ArrayLike) -> FloatArray:
    return np.atleast_1d(np.asarray(age_h, dtype=np.float64))
