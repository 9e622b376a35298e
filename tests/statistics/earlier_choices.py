"""What commit 7ad6c62 recommends for the records of the study of regret: how ``earlier_choices.csv`` was made.

Two steps, since the records are drawn here and the advice is that commit's own::

    python -m tests.statistics.earlier_choices --programmes 60 > records.jsonl
    PYTHONPATH=<checkout of 7ad6c62> python tests/statistics/earlier_choices.py < records.jsonl > earlier_choices.csv

The second reads plain numbers and imports nothing of today's code.
"""

from __future__ import annotations

import csv
import importlib
import json
import sys
from typing import Any

HEAD = ("law", "n_batches", "seed", "ages_h", "specimens", "curve", "weighting", "checksum_mpa")


def write_records(n_programmes: int) -> None:
    """One line of JSON for every set of records: its strengths with batch and age, and what may be chosen."""
    from tests.statistics.growth import LAWS
    from tests.statistics.later_regret import BUDGET_OF_ONE, COSTS, priced_programme

    for law in LAWS:
        for n_batches in (4, 8, 12):
            for seed in range(n_programmes):
                plan = priced_programme(law, n_batches, seed)
                choices = plan.settings.choices
                line = {
                    "law": law.name, "n_batches": n_batches, "seed": seed,
                    "breaks": [(item.batch, item.age_h, item.strength_mpa) for item in plan.records.breaks],
                    "target_h": plan.settings.target.ages_h, "tolerance": plan.settings.target.tolerance,
                    "ages_h": choices.ages_h, "n_ages": (choices.fewest_ages, choices.most_ages),
                    "specimens_per_age": choices.specimens_per_age, "specimens": BUDGET_OF_ONE,
                    "costs": {name: getattr(COSTS, name) for name in (
                        "currency", "specimen", "preparation", "break_one", "visit", "visit_outside_hours", "fixed")},
                }  # fmt: skip
                print(json.dumps(line))


def write_choices() -> None:
    """A row of the table for every line of records, through the code that is imported as ``planner``."""
    table = csv.writer(sys.stdout, lineterminator="\n")
    table.writerow(HEAD)
    for text in sys.stdin:
        line = json.loads(text)
        found = recommended_then(line)
        checksum = sum(strength for _batch, _age, strength in line["breaks"])
        table.writerow([line["law"], line["n_batches"], line["seed"], *found, f"{checksum:.6f}"])
        sys.stdout.flush()


def recommended_then(line: dict[str, Any]) -> tuple[str, str, str, str]:
    """Ages [h], specimens, curve and weighting that were recommended then."""
    terms: Any = importlib.import_module("planner.terms.settings")
    records: Any = importlib.import_module("planner.terms.records")
    pipeline: Any = importlib.import_module("planner.pipeline")
    breaks = tuple(
        records.Break(batch=batch, mix="mix", curing="standard", age_h=age_h, tested_h=age_h, strength_mpa=strength_mpa)
        for batch, age_h, strength_mpa in line["breaks"]
    )
    settings = terms.Settings(
        target=terms.Target(ages_h=tuple(line["target_h"]), tolerance=line["tolerance"]),
        choices=terms.ChoiceLimits(
            ages_h=tuple(line["ages_h"]), fewest_ages=line["n_ages"][0], most_ages=line["n_ages"][1],
            specimens_per_age=tuple(line["specimens_per_age"]),
        ),
        budget=terms.Budget(specimens=line["specimens"]),
        programme=terms.ProgrammeSettings(instrumented=0),
        costs=terms.Costs(**line["costs"]),
    )  # fmt: skip
    plan = terms.Plan(settings=settings, records=records.Records(breaks=breaks))
    taken: Any = pipeline.recommend(plan, n_draws=5, workers=1).recommended
    schedule = taken.schedule
    return (
        " ".join(f"{age:g}" for age in schedule.ages_h),
        " ".join(str(count) for count in schedule.specimens),
        taken.curve,
        taken.weighting,
    )


if __name__ == "__main__":
    if "--programmes" in sys.argv:
        write_records(int(sys.argv[sys.argv.index("--programmes") + 1]))
    else:
        write_choices()
