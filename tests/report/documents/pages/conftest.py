"""A browser for each file of tests that wants one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.report.documents.pages.browsers import started


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with started(tmp_path_factory.mktemp("profile")) as driver:
        yield driver
