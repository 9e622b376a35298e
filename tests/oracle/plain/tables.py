"""Break and temperature tables as the csv module gives them."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np


@dataclass(frozen=True)
class Specimen:
    batch: str
    mix: str
    curing: str
    placement: str
    age_h: float
    strength_mpa: float


def read_specimens(path: Path) -> list[Specimen]:
    """One specimen a row, ages in hours, strengths in MPa."""
    with path.open(encoding="utf-8", newline="") as file:
        return [
            Specimen(
                row["batch"], row.get("mix") or "", row["curing"], row.get("placement") or "",
                float(row["age_h"]), float(row["strength_mpa"]),
            )
            for row in csv.DictReader(file)
        ]  # fmt: skip


Record = tuple[np.ndarray, np.ndarray]  # hours since casting, temperatures [C]


def read_temperatures(path: Path) -> dict[tuple[str, str], dict[str, Record]]:
    """Records by (batch, curing) and placement."""
    found: dict[tuple[str, str], dict[str, list[tuple[float, float]]]] = defaultdict(lambda: defaultdict(list))
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            reading = float(row["elapsed_h"]), float(row["temperature_c"])
            found[row["batch"], row["curing"]][row.get("placement") or ""].append(reading)
    return {
        key: {place: tuple(np.array(sorted(readings)).T) for place, readings in places.items()}
        for key, places in found.items()
    }  # type: ignore[misc]
