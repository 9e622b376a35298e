"""The best scored choices in a compact form: the page embeds them, its reader sets limits and looks again.

Rows are taken by score, some for every number of specimens and every latest age, so that no limit a reader
may set leaves the table empty without need. The script on the page only filters; it computes no error.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from typing import Any

from ..terms.labels import age_label
from ..terms.recommendation import ChoiceTable, RatedChoice, Recommendation
from . import words

MOST_ROWS = 3000
PER_COUNT_AND_AGE = 25  # best schedules kept for each (specimens, latest age), whatever their rank


def what_if_data(told: Recommendation) -> dict[str, Any]:
    """Ages, models and rows; a row is indices and figures, in the order that the script knows."""
    table = told.choices
    kept = kept_rows(table)
    ages = sorted({age for place in kept for age in table.schedules[place].ages_h})
    age_place = {age: place for place, age in enumerate(ages)}
    models = [_model(table, place) for place in kept]
    known = list(dict.fromkeys(models))
    model_place = {model: place for place, model in enumerate(known)}
    rows = [
        [
            [age_place[age] for age in table.schedules[place].ages_h],
            list(table.schedules[place].specimens),
            model_place[model],
            _figure(table.rms[place]),
            _figure(table.within_tolerance[place]),
            _figure(table.over_predicted_beyond_tolerance[place]),
            _figure(table.cost[place]),
            int(table.n_batches[place]),
        ]
        for place, model in zip(kept, models, strict=True)
    ]
    return {
        "ages": [{"age_h": age, "label": age_label(age)} for age in ages],
        "models": known,
        "rows": rows,
        "n_in_search": table.n_in_search,
        "n_batches": told.evidence.n_batches,
        "currency": words.clean(told.currency, limit=8),
        "recommended": _recommended(told.recommended),
    }


def kept_rows(table: ChoiceTable) -> list[int]:
    """Places of the rows to embed, best score first."""
    kept: list[int] = []
    seen: Counter[tuple[int, float]] = Counter()
    for place, schedule in enumerate(table.schedules):
        corner = (schedule.n_specimens, schedule.last_age_h)
        if place < MOST_ROWS or seen[corner] < PER_COUNT_AND_AGE:
            kept.append(place)
        seen[corner] += 1
    return kept


def embedded_json(data: dict[str, Any]) -> str:
    """Write JSON that may stand inside a script element: nothing in it can end it early."""
    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _model(table: ChoiceTable, place: int) -> str:
    return f"{table.curve[place]}, {table.weighting[place]}, {words.constant_words(table.maturity[place])}"


def _figure(value: float) -> float | None:
    number = float(value)
    return round(number, 5) if math.isfinite(number) else None


def _recommended(choice: RatedChoice) -> dict[str, Any]:
    return {"n_specimens": choice.schedule.n_specimens, "rms": _figure(choice.error.rms), "cost": choice.cost}
