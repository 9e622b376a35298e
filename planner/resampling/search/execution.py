"""Who works on a search and where its finished pieces are kept.

Neither changes the answer, so neither is part of the question: they are set around a call, as

    with surroundings(crew=Cluster("tcp://host:8786"), kept=Checkpoints(folder, is_continued=True)):
        recommend(plan)
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from planner.resampling.search.checkpoints import Checkpoints
from planner.resampling.search.executors import Crew


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What long searches inside a `with` block use."""

    crew: Crew | None = None  # None: threads of this machine
    kept: Checkpoints | None = None  # None: nothing is kept


_PRESENT: ContextVar[Surroundings] = ContextVar("_PRESENT", default=Surroundings())  # noqa: B039 - frozen


def present() -> Surroundings:
    """The surroundings of this thread."""
    return _PRESENT.get()


@contextmanager
def surroundings(*, crew: Crew | None = None, kept: Checkpoints | None = None) -> Iterator[None]:
    """Let long searches inside the block run on a crew and keep their finished pieces."""
    token = _PRESENT.set(Surroundings(crew, kept))
    try:
        yield
    finally:
        _PRESENT.reset(token)
