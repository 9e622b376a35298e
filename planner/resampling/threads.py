"""Parts of one piece of work on several threads, in their order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Part = TypeVar("Part")
Answer = TypeVar("Answer")


def in_order(work: Callable[[Part], Answer], parts: Iterable[Part], n_workers: int) -> Iterator[Answer]:
    """Work on every part and hand out the answers in the order of the parts.

    One part, or one worker, works in place: starting a thread takes longer than most small searches do.
    """
    waiting = list(parts)
    if n_workers <= 1 or len(waiting) <= 1:
        yield from map(work, waiting)
        return
    with ThreadPoolExecutor(n_workers) as pool:
        yield from pool.map(work, waiting)
