"""What takes much of the time of a small plan and is no figure of this room; it is tested in tests/verdict."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from planner import whole_calibration


@pytest.fixture(autouse=True, scope="module")
def without_the_tables_of_what_comes_next() -> Iterator[None]:
    """Leave the decisions after the first breaks of a trial batch out of every answer.

    No longer than a file of this room runs: other rooms test those decisions, in whatever order.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(whole_calibration, "if_then", lambda *_: None)
        yield
