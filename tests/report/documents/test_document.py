"""The JSON document: its keys are a contract, its figures are plain."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planner.report.documents.values.recommendation_document import (
    choice_document,
    maturity_document,
    plain_value,
    recommendation_document,
    score_document,
    write_json,
)
from planner.terms.maturity import MaturitySetting
from planner.terms.results.choice_role import ChoiceRole
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation

TOP_KEYS = [
    *(
        "schema",
        "version",
        "inputs",
        "libraries",
        "evidence",
        "valid_for",
        "targets",
        "tolerance",
        "assurance",
    ),
    *("search", "recommended", "best", "customary", "equal_gain", "compared", "tied", "enough", "honest"),
    *("limit", "ages", "cautions"),
]
CHOICE_KEYS = [
    *("ages_h", "specimens", "n_specimens", "last_age_h", "cost", "n_batches", "curve", "weighting"),
    *("maturity", "error"),
]
ERROR_KEYS = {
    *("rms", "rms_measured", "bias", "mean_abs", "p95_abs", "within_tolerance", "over_predicted_any"),
    *("over_predicted_beyond_tolerance", "worst_batch", "worst_over_prediction", "monte_carlo_se"),
}
OWN_BATCH_KEYS = {
    *("apparent_rms", "nested_rms", "bootstrap_rms", "rms_upper_95", "rms_measured", "nested_p80_abs"),
    *(
        "within_tolerance",
        "within_tolerance_lower_95",
        "over_predicted_any",
        "over_predicted_beyond_tolerance",
    ),
}
NEXT_BATCH_KEYS = {
    *("rms", "rms_upper_95", "within_tolerance", "over_predicted_beyond_tolerance", "between_batch_cv"),
}


def read_back(document: dict[str, Any]) -> Any:
    def refuse(constant: str) -> float:
        raise AssertionError(f"{constant} is not JSON")

    return json.loads(write_json(document), parse_constant=refuse)


def test_top_keys_come_first_and_in_the_order_of_the_contract() -> None:
    document = recommendation_document(invented_recommendation())
    assert list(document)[: len(TOP_KEYS)] == TOP_KEYS
    assert document["schema"] == "test-age-planner/recommendation/1"


def test_a_choice_carries_the_keys_of_the_contract() -> None:
    document = recommendation_document(invented_recommendation())
    for choice in (document["recommended"], document["best"], document["customary"], *document["compared"]):
        assert list(choice)[: len(CHOICE_KEYS)] == CHOICE_KEYS
        assert set(choice["error"]) >= ERROR_KEYS | {"per_target"}
        for target in choice["error"]["per_target"]:
            assert set(target) >= ERROR_KEYS | {"age_h"}


def test_honest_figures_carry_the_keys_of_the_contract() -> None:
    document = recommendation_document(invented_recommendation())
    honest = document["honest"]
    assert set(honest["own_batch"]) >= OWN_BATCH_KEYS
    assert set(honest["next_batch"]) >= NEXT_BATCH_KEYS
    assert set(honest["best"]) == {"nested_rms"}
    assert set(honest) >= {"safe_reading_factor", "per_target", "sentence"}
    assert set(document["limit"]) >= {"rms", "schedule_rms", "efficiency"}
    assert set(document["ages"][0]) >= {"age_h", "inclusion", "rms_if_dropped", "rms_if_added"}
    assert set(document["search"]) >= {"n_choices", "n_joint_choices", "n_fits", "n_draws", "seed", "seconds"}
    assert set(document["evidence"]) >= {"grade", "n_batches", "n_breaks", "checked_against", "notes"}
    assert set(document["valid_for"]) >= {
        *("mix", "geometry", "concrete_temperature_c", "maturity_span", "recalibrate_when")
    }


def test_figures_arrive_as_they_are() -> None:
    advice = invented_recommendation()
    document = read_back(recommendation_document(advice))
    assert document["recommended"]["ages_h"] == [6.0, 12.0, 24.0, 672.0]
    assert document["recommended"]["specimens"] == [3, 3, 3, 2]
    assert document["recommended"]["n_specimens"] == 11
    assert document["recommended"]["maturity"] == {
        "method": "equivalent age",
        "q_k": 5000.0,
        "reference_c": 20.0,
    }
    assert document["recommended"]["error"]["rms"] == advice.recommended.error.rms
    assert document["targets"] == [
        {"age_h": 6.0, "weight": 0.5, "strength_mpa": None},
        {"age_h": 24.0, "weight": 0.5, "strength_mpa": None},
    ]
    assert document["cautions"][0] == {"code": "few-batches", "text": advice.cautions[0].text}


def test_what_is_missing_or_not_finite_is_null() -> None:
    document = read_back(recommendation_document(bare_recommendation()))
    for key in ("customary", "equal_gain", "enough", "limit"):
        assert document[key] is None
    assert document["recommended"]["error"]["p95_abs"] is None
    assert document["honest"]["next_batch"] is None
    assert document["recommended"]["cost"] is None


@pytest.mark.parametrize(
    ("setting", "expected"),
    [
        (MaturitySetting("temperature-time", -5.0), {"method": "temperature-time", "datum_c": -5.0}),
        (MaturitySetting("age"), {"method": "age"}),
    ],
)
def test_a_maturity_method_names_its_own_constant_only(setting: MaturitySetting, expected: dict[str, Any]) -> None:
    assert maturity_document(setting) == expected


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, np.float64("nan"), np.float32("inf")])
def test_no_figure_that_json_does_not_know(value: float) -> None:
    assert plain_value(value) is None


def test_array_scalars_become_plain_numbers_and_truths() -> None:
    assert plain_value((np.int64(3), np.float64(0.5), np.True_)) == [3, 0.5, True]
    assert type(plain_value(np.int64(3))) is int


def test_names_survive_the_way_through_json() -> None:
    advice = invented_recommendation(batches=HOSTILE_NAMES, title=HOSTILE_NAMES[0])
    text = write_json(recommendation_document(advice))
    assert text.isascii()
    document = json.loads(text)
    assert document["title"] == HOSTILE_NAMES[0]
    assert [fold["held_out"] for fold in document["honest"]["folds"]] == list(HOSTILE_NAMES)


def test_a_scored_schedule_stands_beside_the_recommendation() -> None:
    advice = invented_recommendation()
    scored = replace(advice.compared[0], label=ChoiceRole.ASKED_ABOUT)
    document = score_document(scored, advice)
    assert document["scored"] == {**(choice_document(scored) or {}), "programme": None}
    assert document["recommendation"] == recommendation_document(advice)


def test_a_clock_time_keeps_its_zone() -> None:
    due = dt.datetime(2027, 3, 17, 1, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
    assert plain_value((due, dt.time(7, 30))) == ["2027-03-17T01:00+01:00", "07:30"]
