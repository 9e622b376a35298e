"""Parts of one piece of work on several threads, in their order."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Part = TypeVar("Part")
Answer = TypeVar("Answer")


def in_order(work: Callable[[Part], Answer], parts: Iterable[Part], n_workers: int) -> Iterator[Answer]:
    """Work on every part and hand out the answers in the order of the parts.

    One part, or one worker, works in place: starting a thread takes longer than most small searches do. A few parts
    are ahead at a time, so that answers nobody has taken yet do not pile up.
    """
    waiting = list(parts)
    if n_workers <= 1 or len(waiting) <= 1:
        yield from map(work, waiting)
        return
    with ThreadPoolExecutor(n_workers) as pool:
        ahead = deque(pool.submit(work, part) for part in waiting[: 2 * n_workers])
        for part in waiting[2 * n_workers :]:
            answer = ahead.popleft().result()
            ahead.append(pool.submit(work, part))
            yield answer
        while ahead:
            yield ahead.popleft().result()
