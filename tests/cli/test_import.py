"""`import planner` costs nothing; its names load when asked for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import planner
from planner.notebook import Advice, recommend
from planner.report.documents.choices_file import COLUMNS

from .conftest import Engine


def test_import_loads_nothing_heavy() -> None:
    heavy = ["numpy", "scipy", "pandas", "sklearn", "numba", "pint", "pydantic", "typer", "rich"]
    code = f"import planner, sys; sys.exit(','.join(name for name in {heavy!r} if name in sys.modules) or 0)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_names_load_on_demand() -> None:
    from planner.read import load_plan

    assert planner.load_plan is load_plan
    assert planner.recommend is recommend
    assert set(dir(planner)) >= set(planner.__all__)


def test_a_wrong_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'forecast'"):
        planner.forecast  # noqa: B018


def test_advice_carries_the_table_and_shows_itself(plan: Path, engine: Engine) -> None:
    advice = recommend(plan, seed=3, progress=lambda *_: None)
    assert isinstance(advice, Advice)
    assert engine.asked[0]["seed"] == 3
    assert tuple(advice.choices.columns) == COLUMNS
    assert len(advice.choices) == len(engine.answer.choices.schedules)
    assert "6 h x3, 12 h x3, 1 d x3, 28 d x2" in repr(advice)
    assert "&lt;" not in advice._repr_html_()
    assert "<pre" in advice._repr_html_()
