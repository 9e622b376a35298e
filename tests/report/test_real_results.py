"""Every renderer on what the engine really says: one batch, two batches, voided breaks, prices."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import Any

import pytest
from openpyxl import load_workbook
from rich.cells import cell_len
from rich.console import Console

from planner.report.documents.choices_file import COLUMNS, write_choices
from planner.report.documents.pages.page import render_page
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.documents.workbook import render_workbook
from planner.report.figures import all_plots
from planner.report.figures.drawing.image_drawing import draw_image
from planner.terms.labels import percent
from tests.report.documents.pages.test_page import outline
from tests.report.pasted_text import render_plain
from tests.report.printed import print_recommendation
from tests.report.real_results import Made, made_from

CASES: dict[str, dict[str, Any]] = {
    "one batch": {"n_batches": 1},
    "two batches": {"n_batches": 2},
    "voided": {"n_batches": 3, "has_voided": True},
    "priced": {"n_batches": 4, "has_prices": True},
}
# Every key that the contract names; a dict goes one level down, a list holds the form of its items.
MATURITY = {"method": None}
BATCH_ERROR = {"batch": None, "error": None}
ERROR: dict[str, Any] = {
    **dict.fromkeys(("rms", "rms_measured", "bias", "mean_abs", "p95_abs", "within_tolerance", "over_predicted_any")),
    **dict.fromkeys(("over_predicted_beyond_tolerance", "monte_carlo_se")),
    "worst_batch": BATCH_ERROR,
    "worst_over_prediction": BATCH_ERROR,
}
CHOICE: dict[str, Any] = {
    **dict.fromkeys(("ages_h", "specimens", "n_specimens", "last_age_h", "cost", "n_batches", "curve", "weighting")),
    "maturity": MATURITY,
    "error": {**ERROR, "per_target": [{"age_h": None, **ERROR}]},
}
HONEST: dict[str, Any] = {
    "own_batch": dict.fromkeys(
        (
            *("apparent_rms", "nested_rms", "bootstrap_rms", "rms_upper_95", "rms_measured", "nested_p80_abs"),
            *("within_tolerance", "within_tolerance_lower_95", "over_predicted_any"),
            "over_predicted_beyond_tolerance",
        )
    ),
    "next_batch": dict.fromkeys(
        (
            *("rms", "rms_upper_95", "within_tolerance", "over_predicted_beyond_tolerance"),
            "between_batch_cv",
        )
    ),
    "best": {"nested_rms": None},
    **dict.fromkeys(("safe_reading_factor", "per_target", "sentence")),
}
DOCUMENT: dict[str, Any] = {
    **dict.fromkeys(("schema", "version", "inputs", "libraries", "tolerance", "assurance")),
    "evidence": dict.fromkeys(("grade", "n_batches", "n_breaks", "checked_against", "notes")),
    "valid_for": dict.fromkeys(("mix", "geometry", "concrete_temperature_c", "maturity_span", "recalibrate_when")),
    "targets": [{"age_h": None, "weight": None}],
    "search": dict.fromkeys(("n_choices", "n_joint_choices", "n_fits", "n_draws", "seed", "seconds")),
    "recommended": CHOICE,
    "best": CHOICE,
    "customary": CHOICE,
    "equal_gain": CHOICE,
    "compared": [CHOICE],
    "tied": [CHOICE],
    "enough": CHOICE,
    "honest": HONEST,
    "limit": dict.fromkeys(("rms", "schedule_rms", "efficiency")),
    "ages": [dict.fromkeys(("age_h", "inclusion", "rms_if_dropped", "rms_if_added"))],
    "cautions": [{"code": None, "text": None}],
}
MAY_BE_NULL = {
    *("customary", "equal_gain", "enough", "own_batch", "next_batch", "limit", "worst_over_prediction", "cost")
}


@pytest.fixture(params=CASES.values(), ids=CASES.keys())
def made(request: pytest.FixtureRequest) -> Made:
    return made_from(**request.param)


def missing_keys(form: Any, value: Any, path: str = "") -> list[str]:
    """Where the document lacks a key of the contract, or holds null where nothing may be missing."""
    if isinstance(form, list):
        assert isinstance(value, list), path
        return [lack for place, item in enumerate(value) for lack in missing_keys(form[0], item, f"{path}[{place}]")]
    if not isinstance(form, dict):
        return []
    if value is None:
        return [] if path.rsplit(".", 1)[-1] in MAY_BE_NULL else [f"{path} is null"]
    return [
        lack
        for key, inner in form.items()
        for lack in (missing_keys(inner, value[key], f"{path}.{key}") if key in value else [f"{path}.{key}"])
    ]


def test_the_document_has_every_key_of_the_contract(made: Made) -> None:
    document = json.loads(write_json(recommendation_document(made.told)))
    assert missing_keys(DOCUMENT, document) == []
    assert (document["honest"]["own_batch"] is None) == (made.told.evidence.n_batches == 1)


def test_a_lost_key_would_be_noticed() -> None:
    document = recommendation_document(made_from(2).told)
    del document["recommended"]["error"]["bias"]
    document["search"] = None
    assert missing_keys(DOCUMENT, document) == [".search is null", ".recommended.error.bias"]


def test_one_batch_promises_nothing_anywhere() -> None:
    advice = made_from(1).told
    document = recommendation_document(advice)
    assert document["honest"]["own_batch"] is None
    assert document["honest"]["next_batch"] is None
    assert document["honest"]["safe_reading_factor"] is None
    for text in (render_plain(advice), outline(render_page(advice)).text):
        assert "unknown" in text
        assert "Nothing can be promised" in " ".join(text.split())


def test_voided_breaks_are_not_used(made: Made) -> None:
    whole = made_from(made.told.evidence.n_batches)
    n_voided = made.told.evidence.n_batches if any("voided" in note for note in made.told.evidence.notes) else 0
    assert made.told.evidence.n_breaks == whole.told.evidence.n_breaks - n_voided


@pytest.mark.parametrize("is_full", [False, True])
@pytest.mark.parametrize("width", [80, 100])
def test_the_terminal_takes_it(made: Made, width: int, is_full: bool) -> None:
    stream = io.StringIO()
    print_recommendation(made.told, Console(file=stream, width=width), is_full=is_full)
    lines = stream.getvalue().splitlines()
    assert all(cell_len(line) <= width for line in lines)
    assert is_full or width < 100 or len(lines) <= 90
    assert "nan" not in stream.getvalue().split()


def test_the_page_takes_it(made: Made) -> None:
    text = outline(render_page(made.told)).text
    assert percent(made.told.recommended.error.rms) in text.replace("\u00a0", " ")
    assert "nan" not in text.lower().split()
    assert "None" not in text.split()


def test_the_workbook_takes_it(made: Made) -> None:
    book = load_workbook(io.BytesIO(render_workbook(made.told, made.settings)))
    values = [cell.value for sheet in book.worksheets for row in sheet.iter_rows() for cell in row]
    assert not any(isinstance(value, float) and not math.isfinite(value) for value in values)
    assert made.told.recommended.schedule.n_specimens > 0
    assert len(values) > 100


def test_the_table_of_choices_takes_it(made: Made) -> None:
    rows = list(csv.DictReader(io.StringIO(write_choices(made.told.choices).decode())))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == made.told.search.n_choices
    assert all(int(row["n_visits"]) >= 1 for row in rows)
    best = made.told.best
    assert float(rows[0]["rms"]) == pytest.approx(best.error.rms, rel=1e-4)
    assert int(rows[0]["n_specimens"]) == best.schedule.n_specimens


def test_every_picture_is_drawn(made: Made) -> None:
    plots = all_plots(made.told)
    assert {"schedules", "growth"} <= {plot.name for plot in plots}
    assert draw_image(plots[0], "png").startswith(b"\x89PNG")


def test_prices_reach_every_choice_that_is_named() -> None:
    made = made_from(4, has_prices=True)
    found = made.told
    assert found.estimate is not None
    assert found.estimate.total == found.recommended.cost
    named = (found.recommended, found.best, found.customary, found.equal_gain, *found.compared, *found.next_best)
    assert all(choice.cost is not None for choice in named if choice is not None)
    page = outline(render_page(found)).text
    assert f"if cast {found.estimate.casting}" in page
    for item in found.estimate.items:
        assert item.name in page
