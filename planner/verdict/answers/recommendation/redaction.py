"""A recommendation that may put schedules in order but say nothing of how many batches keep the tolerance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from typing import Any, TypeVar, cast, get_args, get_type_hints

import numpy as np

from planner.terms.promise import PROMISED
from planner.terms.results.recommended.recommendation import Recommendation

UNKNOWN = float("nan")
Value = TypeVar("Value")


def without_promises(advice: Recommendation) -> Recommendation:
    """Take out whatever is typed as a promise, wherever it stands; what is left only orders the schedules."""
    return _redacted(advice)


def _redacted(value: Value) -> Value:
    found: Any = value
    if isinstance(found, tuple) and found and is_dataclass(found[0]):
        parts = tuple(_redacted(item) for item in found)
        return cast(Value, parts) if any(new is not old for new, old in zip(parts, found, strict=True)) else value
    if not is_dataclass(value) or isinstance(value, type):
        return value
    kind: type = type(found)
    promised = promised_fields(kind)
    changed = {}
    for field in fields(found):
        before = getattr(found, field.name)
        after = _unknown(before) if field.name in promised else _redacted(before)
        if after is not before:
            changed[field.name] = after
    return cast(Value, replace(found, **changed)) if changed else value


def _unknown(value: Any) -> Any:
    if value is None:
        return None
    return np.full(np.shape(value), UNKNOWN) if isinstance(value, np.ndarray) else UNKNOWN


@cache
def promised_fields(kind: type) -> frozenset[str]:
    """Fields of a frozen value that are typed as promises, alone or as an alternative to None."""
    hints: Mapping[str, Any] = get_type_hints(kind, include_extras=True)
    return frozenset(name for name, hint in hints.items() if _is_promised(hint))


def _is_promised(hint: Any) -> bool:
    return PROMISED in getattr(hint, "__metadata__", ()) or any(_is_promised(part) for part in get_args(hint))
