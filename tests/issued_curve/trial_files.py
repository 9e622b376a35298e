"""A trial batch of the runway concrete as files, and the plan and recommendation that it follows. Seeded, invented."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

from planner.after_casting.issuing import issue_curve
from planner.issued_curve.calibration.issue import Issue
from planner.read import load_later, load_plan
from planner.terms.plan.settings import Plan
from planner.terms.results.recommended.recommendation import Recommendation
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import BreakRow, draw_records
from scenarios.writing import write_breaks, write_readings
from tests.report.invented_result import invented_recommendation

PLAN = Path(__file__).parents[2] / "scenarios" / "runway-panels" / "plan.toml"
AGES_H = (4.0, 8.0, 24.0, 72.0, 672.0)
SITE_AGES_H = (6.0, 24.0)
SEED = 77


@cache
def runway_plan() -> Plan:
    """The plan of the repository."""
    return load_plan(PLAN)


def recommendation(**given: object) -> Recommendation:
    """An invented recommendation for the runway's targets; the concrete is that of the plan."""
    advice = invented_recommendation()
    valid = replace(advice.valid_for, mix="rapid panel mix", geometry="cylinder 100x200 mm")
    return replace(advice, valid_for=valid, **given)  # type: ignore[arg-type]


def trial_rows(*batches: str, seed: int = SEED) -> list[BreakRow]:
    """Breaks of a trial batch for each name: five ages standard-cured, companions on site at both targets."""
    drawn = draw_records(RUNWAY_PANELS, seed, len(batches))
    names = dict(zip(dict.fromkeys(row.batch for row in drawn.breaks), batches, strict=True))
    return [
        row._replace(batch=names[row.batch])
        for row in drawn.breaks
        if row.age_h in (SITE_AGES_H if row.curing == "site" else AGES_H)
    ]


def write_trial(folder: Path, *batches: str, rows: Iterable[BreakRow] | None = None) -> tuple[Path, Path]:
    """Write ``trial.csv`` and ``trial-temperatures.csv``; other rows than the drawn ones where they are given."""
    drawn = draw_records(RUNWAY_PANELS, SEED, len(batches))
    names = dict(zip(dict.fromkeys(row.batch for row in drawn.breaks), batches, strict=True))
    breaks, temperatures = folder / "trial.csv", folder / "trial-temperatures.csv"
    write_breaks(breaks, trial_rows(*batches) if rows is None else rows)
    write_readings(temperatures, (row._replace(batch=names[row.batch]) for row in drawn.readings))
    return breaks, temperatures


def issued(folder: Path, *batches: str) -> Issue:
    """The curve of a trial batch for each name."""
    plan = runway_plan()
    if len(batches) > 1 and plan.settings.programme is not None:
        programme = replace(plan.settings.programme, trial_batches=len(batches), most_trial_batches=None)
        plan = replace(plan, settings=replace(plan.settings, programme=programme))
    given = load_later(PLAN, *write_trial(folder, *batches))
    return issue_curve(plan, given, recommendation())


def write_checks(path: Path, rows: Iterable[dict[str, object]]) -> Path:
    """Write site checks as they stand; the columns are those of the first row."""
    listed = list(rows)
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(listed[0]))
        writer.writeheader()
        writer.writerows(listed)
    return path
