"""What takes much of the time of a small plan and is no figure of this room; it is tested in tests/verdict."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True, scope="module")
def only_figures_of_this_room(without_what_comes_after_casting: None) -> None:
    """No longer than a file of this room runs: other rooms test the rest, in whatever order."""
