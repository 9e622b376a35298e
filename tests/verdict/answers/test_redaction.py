"""Where nothing may be promised no field says how many batches keep something, whoever adds the field."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any, get_args, get_type_hints

import numpy as np
import pytest

from planner.terms.results.answers import PriceAnswer
from planner.terms.results.drawn_figures import TemperatureRow
from planner.terms.results.minimum.minimum_figures import MinimumAnswer
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.recommendation.redaction import promised_fields, without_promises
from tests.report.invented_result import invented_recommendation

SPEAKS_OF_BATCHES = re.compile(
    r"within_(?!test)|reads_within|inside|over_predicted|keeps?_|share_of_batches|safe_(reading_factor|factor|h$|mpa)"
)
NOT_SHARES = ("is_", "n_outside")  # truths and counts


def kinds_of(hint: Any) -> Iterator[type]:
    """Every frozen value that a type can hold."""
    if isinstance(hint, type) and is_dataclass(hint):
        yield hint
    for part in get_args(hint):
        yield from kinds_of(part)


def reachable(kind: type) -> set[type]:
    found: set[type] = set()
    waiting = [kind]
    while waiting:
        current = waiting.pop()
        if current not in found:
            found.add(current)
            for hint in get_type_hints(current, include_extras=True).values():
                waiting += kinds_of(hint)
    return found


def values_of(value: Any) -> Iterator[Any]:
    """Every frozen value that stands somewhere in a result."""
    if is_dataclass(value):
        yield value
        for field in fields(value):
            yield from values_of(getattr(value, field.name))
    elif isinstance(value, tuple):
        for item in value:
            yield from values_of(item)


@pytest.mark.parametrize("answer", [Recommendation, PriceAnswer, MinimumAnswer])
def test_every_share_of_batches_is_typed_as_a_promise(answer: type) -> None:
    unmarked = [
        f"{kind.__name__}.{name}"
        for kind in reachable(answer)
        for name in get_type_hints(kind)
        if SPEAKS_OF_BATCHES.search(name) and not name.startswith(NOT_SHARES) and name not in promised_fields(kind)
    ]
    assert unmarked == []


def test_no_promise_is_left() -> None:
    row = TemperatureRow(
        target_age_h=12.0, temperature_c=10.0, bias=0.0, rms=0.1, low_05=-0.1, high_95=0.1, within_tolerance=0.7,
        over_predicted_beyond_tolerance=0.1,
    )  # fmt: skip
    advice = replace(invented_recommendation(), by_temperature=(row,))
    left = without_promises(advice)
    kinds = set()
    for value in values_of(left):
        for name in promised_fields(type(value)):
            kinds.add(type(value).__name__)
            figure = getattr(value, name)
            assert figure is None or np.isnan(figure).all(), f"{type(value).__name__}.{name}"
    assert {"ErrorFigures", "ChoiceTable", "TemperatureRow", "OwnBatchVerdict"} <= kinds


def test_what_is_no_promise_stays() -> None:
    advice = invented_recommendation()
    left = without_promises(advice)
    assert left.recommended.schedule is advice.recommended.schedule
    assert left.recommended.error.rms == advice.recommended.error.rms
    assert left.choices.rms is advice.choices.rms
    assert left.reasons is advice.reasons
    assert left.held_out is advice.held_out
