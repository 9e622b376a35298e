"""Frozen values as what JSON knows."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

from planner.terms.maturity import MaturitySetting

Document = dict[str, Any]


def maturity_document(setting: MaturitySetting) -> Document:
    """The maturity method with the constant that belongs to it."""
    if setting.method == "equivalent age":
        return {"method": setting.method, "q_k": setting.constant, "reference_c": setting.reference_c}
    if setting.method == "temperature-time":
        return {"method": setting.method, "datum_c": setting.constant}
    return {"method": setting.method}


def plain_value(value: Any) -> Any:
    """Reduce a frozen value to what JSON knows; a figure that is not finite becomes null."""
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, MaturitySetting):
        return maturity_document(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return fields_of(value)
    if isinstance(value, Mapping):
        return {str(key): plain_value(inner) for key, inner in value.items()}
    if isinstance(value, tuple | list):
        return [plain_value(inner) for inner in value]
    if hasattr(value, "item"):  # a scalar from an array
        return plain_value(value.item())
    if isinstance(value, int):
        return value
    if isinstance(value, dt.datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, dt.time):
        return f"{value:%H:%M}"
    number = float(value)
    return number if math.isfinite(number) else None


def fields_of(value: Any) -> Document:
    return {item.name: plain_value(getattr(value, item.name)) for item in dataclasses.fields(value)}
