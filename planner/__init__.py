"""Chooses the ages at which to break specimens for a strength-maturity calibration.

``load_plan`` reads a plan; ``recommend``, ``score``, ``price``, ``minimum``, ``check`` and ``sweep`` answer what the
commands of the same names answer, ``issue_curve``, ``site_checks`` and ``read_pour`` what ``test-ages curve`` does;
``StrengthMaturityRegressor`` is one curve of one batch. They load when first asked for, so that ``import planner``
costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from planner.questions.after_casting import issue_curve, read_pour, site_checks
    from planner.questions.asking import check, minimum, price, score
    from planner.questions.loading import load_plan
    from planner.questions.long_runs import long_search
    from planner.questions.recommending import recommend
    from planner.regressor import StrengthMaturityRegressor
    from planner.sweeping.sweep_plans import sweep
    from planner.terms.problems import InputError, NoScheduleError

__version__ = "0.1.0"
__all__ = [
    "InputError",
    "NoScheduleError",
    "StrengthMaturityRegressor",
    "__version__",
    "check",
    "issue_curve",
    "load_plan",
    "long_search",
    "minimum",
    "price",
    "read_pour",
    "recommend",
    "score",
    "site_checks",
    "sweep",
]

_HOMES = {
    "InputError": "planner.terms.problems",
    "NoScheduleError": "planner.terms.problems",
    "StrengthMaturityRegressor": "planner.regressor",
    "check": "planner.questions.asking",
    "issue_curve": "planner.questions.after_casting",
    "load_plan": "planner.questions.loading",
    "long_search": "planner.questions.long_runs",
    "minimum": "planner.questions.asking",
    "price": "planner.questions.asking",
    "read_pour": "planner.questions.after_casting",
    "recommend": "planner.questions.recommending",
    "score": "planner.questions.asking",
    "site_checks": "planner.questions.after_casting",
    "sweep": "planner.sweeping.sweep_plans",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'planner' has no attribute {name!r}")
    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
