"""Hours at the reference temperature: what every hour of a record counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.oracle.plain.tables import Record, Specimen


@dataclass(frozen=True)
class Constants:
    """One maturity function: an activation temperature Q [K], or else a datum [C]."""

    q_k: float | None = None
    datum_c: float | None = None
    reference_c: float = 20.0

    def rate(self, temperature_c):
        """Hours at the reference that an hour at this temperature counts."""
        temperature_c = np.asarray(temperature_c, dtype=float)
        if self.q_k is not None:
            return np.exp(self.q_k * (1.0 / (self.reference_c + 273.15) - 1.0 / (temperature_c + 273.15)))
        return np.maximum(temperature_c - self.datum_c, 0.0) / (self.reference_c - self.datum_c)


def maturity_h(age_h: float, record: Record | None, constants: Constants, *, room_c: float | None) -> float:
    """Maturity at an age: interval by interval at its mean temperature; after the record at `room_c`."""
    if record is None:
        return float(age_h * constants.rate(room_c))
    times, degrees = record
    if times[0] > 0.0:
        times, degrees = np.r_[0.0, times], np.r_[degrees[0], degrees]
    end = min(age_h, times[-1])
    inside = times < end
    knots, levels = np.r_[times[inside], end], np.r_[degrees[inside], np.interp(end, times, degrees)]
    within = np.sum(np.diff(knots) * constants.rate((levels[1:] + levels[:-1]) / 2.0))
    return float(within + max(age_h - times[-1], 0.0) * (constants.rate(room_c) if age_h > times[-1] else 0.0))


class Clock:
    """Finds the record of a specimen and reads its maturity; each distinct one once."""

    def __init__(self, temperatures: dict[tuple[str, str], dict[str, Record]], room_c: float | None) -> None:
        self._temperatures, self._room_c = temperatures, room_c
        self._known: dict[tuple, float] = {}

    def of(self, item: Specimen, constants: Constants) -> float:
        places = self._temperatures.get((item.batch, item.curing), {})
        place = item.placement if item.placement in places else next(iter(places), None)
        key = (item.batch, item.curing, place, item.age_h, constants)
        if key not in self._known:
            record = None if place is None else places[place]
            self._known[key] = maturity_h(item.age_h, record, constants, room_c=self._room_c)
        return self._known[key]
