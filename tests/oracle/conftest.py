"""What takes much of the time of a small plan and is no figure of this room; it is tested in tests/verdict."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from planner import whole_calibration
from planner.verdict.answers import advice


@pytest.fixture(autouse=True, scope="module")
def without_the_tables_of_what_comes_next() -> Iterator[None]:
    """Leave the decisions after the first breaks of a trial batch and the chances of alarms out of every answer.

    No longer than a file of this room runs: other rooms test both, in whatever order.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(whole_calibration, "if_then", lambda *_: None)
        patch.setattr(advice, "site_checks", lambda **_: None)
        yield
