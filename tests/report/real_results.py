"""Recommendations that the engine made, from the starter's tables cut down to a second or two of work."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from planner.pipeline import recommend
from planner.read import load_plan
from planner.starter import STARTER
from planner.terms.plan.settings import Settings
from planner.terms.results.recommended.recommendation import Recommendation

PRICES = """
[programme]
instrumented = 2
spares = "10 %"

[costs]
currency = "EUR"
specimen = 18
break = 25
visit = 90
visit_outside_hours = 240

[laboratory]
open = "07:00-17:00"
days = "Mon-Fri"
time_zone = "Europe/Oslo"
age_tolerances = "ASTM C39"
"""


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What the engine said of a plan."""

    told: Recommendation
    settings: Settings


@cache
def made_from(n_batches: int, *, has_voided: bool = False, has_prices: bool = False) -> Made:
    """Run the starter on its first batches; `has_voided` takes a break of each out, one without a strength."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        kept = [f"S{number}" for number in range(1, n_batches + 1)]
        for table in ("breaks.csv", "temperatures.csv"):
            _cut(STARTER / table, folder / table, kept, has_voided=has_voided and table == "breaks.csv")
        text = (STARTER / "plan.toml").read_text(encoding="utf-8")
        text = text.replace("most_ages = 6", "most_ages = 4").replace(
            "specimens_per_age = [2, 3]", "specimens_per_age = [2, 2]"
        )
        (folder / "plan.toml").write_text(text + PRICES * has_prices, encoding="utf-8")
        plan = load_plan(folder / "plan.toml")
        return Made(recommend(plan, n_draws=40, workers=1), plan.settings)


def _cut(source: Path, aim: Path, kept: list[str], *, has_voided: bool) -> None:
    with source.open(newline="", encoding="utf-8") as stream:
        rows = [row for row in csv.DictReader(stream) if row["batch"] in kept]
    if has_voided:
        rows = [{**row, "void": ""} for row in rows]
        for place, batch in enumerate(kept):
            row = next(row for row in rows if row["batch"] == batch)
            row["void"] = "cracked cap"
            if place == 0:
                row["strength_mpa"] = ""
    with aim.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
