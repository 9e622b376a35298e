"""Answers without the studies of early breaks and of maturity constants, of which nothing goes back into the choice."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from planner.steps import whole_calibration


@contextmanager
def without_studies() -> Iterator[None]:
    """Inside, neither study is worked out: they take most of the time of a small plan."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("early_breaks", "constants_study"):
            patch.setattr(whole_calibration, name, lambda *_, **__: None)
        yield
