"""Chooses the ages at which to break specimens for a strength-maturity calibration.

``load_plan`` reads a plan, ``recommend`` gives the advice, ``StrengthMaturityRegressor`` is one curve of one
batch. They load when first asked for, so that ``import planner`` costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .notebook import recommend
    from .read import load_plan
    from .regressor import StrengthMaturityRegressor

__version__ = "0.1.0"
__all__ = ["StrengthMaturityRegressor", "__version__", "load_plan", "recommend"]

_HOMES = {
    "load_plan": "planner.read",
    "recommend": "planner.notebook",
    "StrengthMaturityRegressor": "planner.regressor",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'planner' has no attribute {name!r}")
    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
