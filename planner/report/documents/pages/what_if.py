"""The best scored choices in a compact form: the page embeds them, its reader sets limits and looks again.

Rows are taken by score, some for every number of specimens, latest age and number of visits, so that no
limit a reader may set leaves the table empty without need. The script on the page only filters; it computes no error.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from planner.report.text import words
from planner.terms.arrays import IntArray
from planner.terms.labels import age_label
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.schedule_table import ScheduleTable

MOST_ROWS = 3000
PER_CORNER = 5  # best schedules kept for each (specimens, latest age, visits), whatever their rank


def what_if_data(advice: Recommendation) -> dict[str, Any]:
    """Ages, models and rows; a row is indices and figures, in the order that the script knows."""
    table = advice.choices
    kept = kept_rows(table)
    schedules = [table.schedules[place] for place in kept]
    ages = sorted({age for schedule in schedules for age in schedule.ages_h})
    age_place = {age: place for place, age in enumerate(ages)}
    models = [_model(table, place) for place in kept]
    known = list(dict.fromkeys(models))
    model_place = {model: place for place, model in enumerate(known)}
    rows = [
        [
            [age_place[age] for age in schedule.ages_h],
            list(schedule.specimens),
            model_place[model],
            _figure(table.rms[place]),
            _figure(table.within_tolerance[place]),
            _figure(table.over_predicted_beyond_tolerance[place]),
            _figure(table.cost[place]),
            int(table.n_batches[place]),
            int(table.n_visits[place]),
        ]
        for place, schedule, model in zip(kept, schedules, models, strict=True)
    ]
    return {
        "ages": [{"age_h": age, "label": age_label(age)} for age in ages],
        "models": known,
        "rows": rows,
        "n_in_search": table.n_in_search,
        "n_batches": advice.evidence.n_batches,
        "currency": words.clean(advice.currency, limit=8),
        "recommended": _recommended(advice.recommended, table, kept),
    }


def kept_rows(table: ChoiceTable) -> list[int]:
    """Places of the rows to embed, best score first."""
    schedules = ScheduleTable.of(table.schedules)
    last_place = np.searchsorted(schedules.ages_h, schedules.last_age_h)
    n_visits = np.asarray(table.n_visits).astype(np.int64)
    most_visits = int(n_visits.max(initial=0))
    corner = (schedules.n_specimens * (most_visits + 1) + n_visits) * len(schedules.ages_h) + last_place
    rank = _rank_within(corner)
    is_kept = (np.arange(len(schedules)) < MOST_ROWS) | (rank < PER_CORNER)
    return [int(place) for place in np.flatnonzero(is_kept)]


def _rank_within(corner: IntArray) -> IntArray:
    """How many rows before each one stand in the same corner, ``(n_rows,)``."""
    order = np.argsort(corner, kind="stable")
    is_first = np.diff(corner[order], prepend=-1) != 0
    at = np.arange(len(corner))
    rank = np.empty(len(corner), dtype=np.int64)
    rank[order] = at - np.maximum.accumulate(np.where(is_first, at, 0))
    return rank


def embedded_json(data: dict[str, Any]) -> str:
    """Write JSON that may stand inside a script element: nothing in it can end it early."""
    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _model(table: ChoiceTable, place: int) -> str:
    curve = words.weighted(table.curve[place], table.weighting[place])
    return f"{curve}, {words.constant_words(table.maturity[place])}"


def _figure(value: float) -> float | None:
    number = float(value)
    return round(number, 5) if math.isfinite(number) else None


def _recommended(choice: RatedChoice, table: ChoiceTable, kept: list[int]) -> dict[str, Any]:
    """The recommended schedule with the error of its own row, so that it is held against rows of one kind."""
    place = next((place for place in kept if table.schedules[place] == choice.schedule), None)
    rms = choice.error.rms if place is None else float(table.rms[place])
    return {"n_specimens": choice.schedule.n_specimens, "rms": _figure(rms), "cost": choice.cost}
