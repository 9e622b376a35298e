"""Answers without the studies that follow the choice, of which nothing goes back into it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from planner.steps import whole_calibration
from planner.verdict.answers.recommendation import advice


@contextmanager
def without_studies() -> Iterator[None]:
    """Inside, none is worked out: early breaks, constants, decisions after the first breaks, chances of alarms.

    They take most of the time of a small plan.
    """
    with pytest.MonkeyPatch.context() as patch, without_what_comes_after_casting():
        for name in ("early_breaks", "constants_study"):
            patch.setattr(whole_calibration, name, lambda *_, **__: None)
        yield


@contextmanager
def without_what_comes_after_casting() -> Iterator[None]:
    """Inside, the decisions after the first breaks and the chances of alarms are left out."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(whole_calibration, "if_then", lambda *_: None)
        patch.setattr(advice, "announced_checks", lambda *_: None)
        yield
