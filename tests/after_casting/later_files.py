"""Files after casting for tests: companions of sound pours and early breaks of one, whose rows are then spoilt."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from planner.after_casting.pour_reading import read_pour
from planner.after_casting.site_checking import check_pours
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.pour_answer import PourAnswer
from planner.issued_curve.site_answer import SiteAnswer
from planner.read import load_later
from tests.issued_curve.invented_curves import issued_curve, pour_model
from tests.issued_curve.trial_files import PLAN, runway_plan

Row = dict[str, Any]
Change = Callable[[Row], Any]
# Six pours, 18 C up to 6 h and 20 C up to 1 d by their own maturities; strengths as shares of the reading.
SHARES = (1.02, 0.95, 0.99, 1.06, 0.93, 1.03)
SIDES = (-0.03, 0.01, 0.02)
MATURITIES = {6: 5.4, 24: 23.2}


def curve(**given: Any) -> IssuedCurve:
    """A hyperbola for the runway's targets, 50 (t - 4) / (t + 16) MPa, that reads pours too."""
    fields: dict[str, Any] = {
        "mix": "rapid panel mix",
        "target_ages_h": (6.0, 24.0),
        "inputs": runway_plan().inputs,
        "pour_model": pour_model(),
    }
    return issued_curve(**(fields | given))


def companions(n_pours: int = 4) -> list[Row]:
    """Three companions at 6 h and at 1 d of every pour, with the maturity of its logger."""
    rows = []
    for pour, share in enumerate(SHARES[:n_pours], start=1):
        for age_h, maturity in MATURITIES.items():
            at = round(maturity + 0.1 * pour, 2)
            read = 50 * (at - 4) / (at + 16)
            rows += [
                {
                    "batch": f"P{pour}",
                    "mix": "rapid panel mix",
                    "specimen": f"P{pour}-{age_h}-{place}",
                    "geometry": "cylinder 100x200 mm",
                    "curing": "site",
                    "age_h": age_h,
                    "strength_mpa": round(read * share * (1 + side), 2),
                    "maturity": at,
                    "required_mpa": 2.0 if age_h == 6 else 12.0,
                    "cast_at": f"2027-04-{pour:02d} 22:00",
                }
                for place, side in enumerate(SIDES)
            ]
    return rows


def early_breaks() -> list[Row]:
    """Two early breaks at 4 h and one at 8 h of a sound pour."""
    return [
        {
            "batch": "P1",
            "mix": "rapid panel mix",
            "specimen": f"P1-{place}",
            "geometry": "cylinder 100x200 mm",
            "curing": "standard",
            "age_h": age_h,
            "strength_mpa": strength_mpa,
            "maturity": maturity,
        }
        for place, (age_h, strength_mpa, maturity) in enumerate(((4, 9.2, 5.1), (4, 9.8, 5.1), (8, 17.0, 8.4)))
    ]


def where(is_one: Callable[[Row], bool], **changed: Any) -> Callable[[list[Row]], list[Row]]:
    """Change the cells of some rows; a function is asked for the value."""

    def change(rows: list[Row]) -> list[Row]:
        return [
            row | {name: value(row) if callable(value) else value for name, value in changed.items()}
            if is_one(row)
            else row
            for row in rows
        ]

    return change


def every(**changed: Any) -> Callable[[list[Row]], list[Row]]:
    """Change the cells of every row."""
    return where(lambda _: True, **changed)


def without(*columns: str) -> Callable[[list[Row]], list[Row]]:
    """Leave columns out."""
    return lambda rows: [{name: value for name, value in row.items() if name not in columns} for row in rows]


def site_record(pour: str = "P1", *, temperature_c: Change | float = 18.0, until_h: float = 26.0) -> list[Row]:
    """Half-hourly readings of a pour that warms a little and cools, unless a temperature is given."""
    times = [step / 2 for step in range(int(2 * until_h) + 1)]
    rows: list[Row] = [{"batch": pour, "curing": "site", "elapsed_h": time} for time in times]
    for row in rows:
        waved = 18.0 + round(0.37 * ((7 * row["elapsed_h"]) % 5), 1)
        row["temperature_c"] = temperature_c(row) if callable(temperature_c) else waved
    return rows


def written(path: Path, rows: Sequence[Row]) -> Path:
    """Write rows under all columns that any of them has."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, columns, restval="")
        writer.writeheader()
        writer.writerows(rows)
    return path


def checked(folder: Path, rows: Iterable[Row], readings: Sequence[Row] = (), **given: Any) -> SiteAnswer:
    """Site checks of a file, and its temperatures where there are any."""
    temperatures = written(folder / "temperatures.csv", readings) if readings else None
    breaks = written(folder / "checks.csv", list(rows))
    return check_pours(runway_plan(), curve(**given), load_later(PLAN, breaks, temperatures))


def read(folder: Path, rows: Iterable[Row], readings: Sequence[Row] = (), **given: Any) -> PourAnswer:
    """A pour of a file, and its temperatures where there are any."""
    temperatures = written(folder / "temperatures.csv", readings) if readings else None
    breaks = written(folder / "pour.csv", list(rows))
    return read_pour(runway_plan(), curve(**given), load_later(PLAN, breaks, temperatures))
