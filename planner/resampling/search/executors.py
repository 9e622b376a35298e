"""Who works on the pieces of a search: threads of this machine, or the machines of a Dask cluster.

Both hand back what was asked for, in any order and any number of times the same, so that the answer does
not depend on who worked. Threads are for one machine: the compiled loops hold no lock. A cluster is for
searches of hours; its workers need the same versions of everything, which every piece checks.
"""

from __future__ import annotations

import gc
import logging
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from types import TracebackType
from typing import Any, Protocol, Self, TypeVar
from weakref import WeakSet

from planner.terms.problems import InputError, Problem

CONNECT_SECONDS = 20
AHEAD_PER_THREAD = 4
PATIENCE_SECONDS = 60  # between two looks whether anybody is still at work
OPTION = "--cluster"

Say = Callable[[str], None]
Answer = TypeVar("Answer")


class OtherProgramError(Exception):
    """A machine runs another version of the program, so that its answer could differ."""


class Pending(Protocol):
    """Work handed out."""

    def result(self) -> Any:
        """Wait for the answer."""


class Crew(Protocol):
    """Takes work and hands back answers."""

    def n_ahead(self) -> int:
        """Pieces worth having in hand at once."""

    def share(self, value: Any) -> Any:
        """Bring to everybody, once, what all pieces read; what comes back goes into `submit`."""

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Pending:
        """Hand out one piece of work."""


class _Done:
    """An answer that was there before it was asked for."""

    def __init__(self, answer: Any) -> None:
        self._answer = answer

    def result(self) -> Any:
        return self._answer


def done(answer: Any) -> Pending:
    """Wrap an answer that needs no work."""
    return _Done(answer)


class Threads:
    """Threads of this machine; one works in place, so that nothing hides a fault."""

    def __init__(self, n_workers: int) -> None:
        self._n_workers = n_workers
        self._pool = ThreadPoolExecutor(n_workers) if n_workers > 1 else None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:  # whoever interrupts waits for the pieces at work, not for those behind
            self._pool.shutdown(wait=True, cancel_futures=error is not None)

    def n_ahead(self) -> int:
        # Pieces are unlike in size: with few in hand, threads would stand idle behind a slow first one.
        return AHEAD_PER_THREAD * self._n_workers if self._pool is not None else 1

    def share(self, value: Any) -> Any:
        return value

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Pending:
        if self._pool is None:
            return done(work(*arguments))
        return self._pool.submit(work, *arguments)


class Cluster:
    """The workers of a Dask scheduler, started by whoever runs the machines.

    Parameters
    ----------
    address
        Of the scheduler, ``tcp://host:8786``.
    say
        Is told when nobody is at work.

    Raises
    ------
    InputError
        Where Dask is not installed, or no scheduler or worker answers.
    """

    def __init__(self, address: str, *, say: Say = lambda _text: None) -> None:
        self._address = address
        self._say = say
        self._client = _connected(address)
        self._shared: list[_Shared] = []
        self._handed_out: WeakSet[_OnCluster] = WeakSet()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(OSError):  # a scheduler that is gone needs no farewell
            self._client.close(timeout=CONNECT_SECONDS)  # the scheduler forgets what nobody waits for

    def n_ahead(self) -> int:
        return AHEAD_PER_THREAD * max(1, self._n_threads())

    def share(self, value: Any) -> Any:
        # Submitted and not scattered: the scheduler then knows how to make it again when the only worker
        # that held it is lost.
        shared = _Shared(value)
        shared.future = self._submit(_handed_on, value)
        self._shared.append(shared)
        return shared

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Pending:
        pending = _OnCluster(self, work, arguments)
        self.begin(pending)
        self._handed_out.add(pending)
        return pending

    def begin(self, pending: _OnCluster) -> None:
        """Hand the work to the scheduler."""
        arguments = [value.future if isinstance(value, _Shared) else value for value in pending.arguments]
        pending.future = self._submit(pending.work, *arguments)

    def _begin_anew(self) -> None:
        """Hand out again whatever is not finished: a scheduler can lose track of work when a worker is lost."""
        for shared in self._shared:
            shared.future = self._submit(_handed_on, shared.value)
        for pending in list(self._handed_out):
            if not pending.future.done():
                self.begin(pending)

    def _submit(self, work: Callable[..., Any], *arguments: Any) -> Any:
        with self._answering(), warnings.catch_warnings():  # large by design: it is sent once
            warnings.filterwarnings("ignore", message="Sending large graph")
            return self._client.submit(work, *arguments, pure=False)

    def wait(self, pending: _OnCluster) -> Any:
        """Wait for an answer; say so when nobody is at work, and ask again when none comes.

        Raises
        ------
        InputError
            Where the scheduler is gone, a worker runs another version of the program, or a piece took
            several workers with it.
        """
        from distributed import KilledWorker

        patience = PATIENCE_SECONDS
        with self._answering():
            while True:
                try:
                    return pending.future.result(timeout=patience)
                except TimeoutError:
                    if not self._n_threads():
                        self._say(f"No worker is connected to {self._address}. Waiting for one.")
                        continue
                    self._begin_anew()  # whoever answers first: the answer is the same
                    patience *= 2
                except OtherProgramError as error:
                    raise _complaint(str(error)) from error
                except KilledWorker as error:
                    raise _complaint(
                        f"A piece of work was lost with several workers of {self._address}, one after the other. "
                        "Give the workers more memory."
                    ) from error

    def _n_threads(self) -> int:
        with self._answering():
            return sum(int(n) for n in self._client.nthreads().values())

    @contextmanager
    def _answering(self) -> Iterator[None]:
        """Turn whatever a lost scheduler causes into one complaint."""
        gone = f"The scheduler at {self._address} no longer answers. Start it again, or go on without it."
        if self._client.status != "running":
            raise _complaint(gone)
        try:
            yield
        except (CancelledError, OSError) as error:  # what breaks in talking to it is an OSError throughout
            raise _complaint(gone) from error


class _Shared:
    """What all pieces read, on the cluster."""

    def __init__(self, value: Any) -> None:
        self.value = value
        self.future: Any = None


class _OnCluster:
    """One piece of work on a cluster."""

    def __init__(self, cluster: Cluster, work: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
        self._cluster = cluster
        self.work = work
        self.arguments = arguments
        self.future: Any = None

    def result(self) -> Any:
        return self._cluster.wait(self)


def _handed_on(value: Answer) -> Answer:
    return value


def _connected(address: str) -> Any:
    try:
        import distributed
    except ImportError as error:
        raise _complaint(
            "A cluster needs Dask, which is not installed. Run: pip install 'test-age-planner[cluster]'"
        ) from error
    make: Any = distributed.Client
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)  # a lost scheduler is told once, by us
    client: Any = None
    try:
        client = make(address, timeout=CONNECT_SECONDS, set_as_default=False)
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        return client
    except (OSError, ValueError, TimeoutError):
        if client is None:
            text = f"No scheduler answers at {address!r}. Give its address as it prints it, like tcp://host:8786."
        else:
            client.close()
            text = f"The scheduler at {address!r} has no worker. Start one: dask worker {address}"
    # A client that could not connect closes itself when it is collected. That must be now: in the midst of the start
    # of the next client, which holds the lock that closing waits for, it would be never.
    gc.collect()
    raise _complaint(text)


def _complaint(text: str) -> InputError:
    return InputError([Problem(file=OPTION, text=text)])
