"""What holds for every test."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def no_width_from_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever starts the tests may state a width of the screen; the program is asked without one."""
    monkeypatch.delenv("COLUMNS", raising=False)
