"""A real scheduler and two worker processes: the same answer, also when a worker is killed half way."""

from __future__ import annotations

import gc
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from planner.resampling.search import error_matrix as matrix
from planner.resampling.search.execution import surroundings
from planner.resampling.search.executors import Cluster
from planner.starter import STARTER
from planner.terms.problems import InputError
from tests.commands_here import run_here
from tests.resampling.searches import assert_same, cut_small, search

distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
pytestmark = pytest.mark.slow

QUIET = {**os.environ, "PYTHONWARNINGS": "ignore", "DASK_DISTRIBUTED__LOGGING__DISTRIBUTED": "error"}


@dataclass
class Machines:
    """A scheduler with workers, each a process of its own."""

    folder: Path
    address: str = ""
    scheduler: subprocess.Popen[bytes] | None = None
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def start(self, n_workers: int) -> Machines:
        file = self.folder / "scheduler.json"
        self.scheduler = self._begin(
            "dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
            "--scheduler-file", str(file),
        )  # fmt: skip
        deadline = time.monotonic() + 60
        while not self.address and time.monotonic() < deadline:
            time.sleep(0.1)
            with suppress(FileNotFoundError, json.JSONDecodeError):  # not yet there, or not yet written to its end
                self.address = json.loads(file.read_text())["address"]
        for _ in range(n_workers):
            self.add_worker()
        return self

    def completed(self, n_workers: int) -> Machines:
        """With so many workers at work: what a test has stopped is begun anew, what is too many is stopped."""
        if self.scheduler is None or self.scheduler.poll() is not None:
            self.stop()
            (self.folder / "scheduler.json").unlink(missing_ok=True)
            self.address, self.workers = "", []
            return self.start(n_workers)
        alive = [worker for worker in self.workers if worker.poll() is None]
        self.workers, spare = alive[:n_workers], alive[n_workers:]
        for worker in spare:
            worker.kill()
            worker.wait()
        for _ in range(n_workers - len(self.workers)):
            self.add_worker()
        return self

    def add_worker(self) -> None:
        self.workers.append(
            self._begin(
                "dask_worker", self.address, "--nworkers", "1", "--nthreads", "1", "--no-nanny", "--no-dashboard",
                "--local-directory", str(self.folder),
            )
        )  # fmt: skip

    def stop(self) -> None:
        for process in (*self.workers, self.scheduler):
            if process is not None and process.poll() is None:
                process.kill()
                process.wait()

    def _begin(self, module: str, *arguments: str) -> subprocess.Popen[bytes]:
        command = (sys.executable, "-m", f"distributed.cli.{module}", *arguments)
        return subprocess.Popen(command, env=QUIET, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


@pytest.fixture(scope="module")
def shared_machines(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    """For the whole file, begun by whoever asks for them first: every process takes two seconds to start."""
    started = Machines(tmp_path_factory.mktemp("machines"))
    try:
        yield started
    finally:
        started.stop()


@pytest.fixture
def machines(shared_machines: Machines) -> Machines:
    return shared_machines.completed(2)


def test_a_scheduler_without_workers_is_told(shared_machines: Machines, monkeypatch: pytest.MonkeyPatch) -> None:
    machines = shared_machines.completed(0)
    monkeypatch.setattr("planner.resampling.search.executors.CONNECT_SECONDS", 3)
    with pytest.raises(InputError, match="has no worker"):
        Cluster(machines.address)


def test_two_processes_answer_as_threads_do_also_when_one_is_killed_half_way(
    machines: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_small(monkeypatch)
    expected = search(n_workers=2)
    killed: list[int] = []

    def kill_one(done: int, total: int, _what: str) -> None:
        if 2 * done >= total and not killed:
            killed.append(done)
            machines.workers[0].send_signal(signal.SIGKILL)

    with Cluster(machines.address) as crew, surroundings(crew=crew):
        assert_same(search(), expected)
        assert_same(search(progress=kill_one), expected)
    assert killed
    assert machines.workers[0].wait(timeout=10) == -signal.SIGKILL
    with Cluster(machines.address) as crew, surroundings(crew=crew):  # on the one that is left
        assert_same(search(), expected)


def test_the_only_worker_is_killed_and_another_one_comes(
    shared_machines: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_small(monkeypatch)
    expected = search()
    machines = shared_machines.completed(1)
    (only,) = machines.workers

    def replace_it(done: int, _total: int, _what: str) -> None:
        if done == 4:
            only.send_signal(signal.SIGKILL)
            only.wait()
            machines.add_worker()

    with Cluster(machines.address) as crew, surroundings(crew=crew):
        assert_same(search(progress=replace_it), expected)
    assert only.poll() == -signal.SIGKILL


def test_the_command_answers_alike_with_a_cluster_and_without(machines: Machines, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    for name in ("plan.toml", "breaks.csv", "temperatures.csv"):
        (tmp_path / name).write_bytes((STARTER / name).read_bytes())
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace("most_ages = 6", "most_ages = 4"), encoding="utf-8")

    command = ("recommend", str(plan), "--draws", "10", "--json")
    program = (sys.executable, "-m", "planner.cli.main", *command, "--cluster", machines.address)
    done = subprocess.run(program, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    alone = run_here(*command, "--workers", "1")
    assert alone.code == 0, alone.err
    shared, wanted = (json.loads(text) for text in (done.stdout, alone.out))
    for document in (shared, wanted):
        del document["search"]["seconds"]
    assert shared == wanted


def test_a_worker_with_another_program_is_refused(machines: Machines, monkeypatch: pytest.MonkeyPatch) -> None:
    cut_small(monkeypatch)
    monkeypatch.setattr(matrix, "program_mark", lambda: "another")
    with (
        Cluster(machines.address) as crew,
        surroundings(crew=crew),
        pytest.raises(InputError, match="another version"),
    ):
        search()


def stuck_once(mark: str, value: int) -> int:
    """Work that never ends where it is asked for first, as if the scheduler had lost track of it.

    Its worker is busy from then on, so this stands near the end.
    """
    if not Path(mark).exists():
        Path(mark).touch()
        time.sleep(600)
    return value


def test_work_that_a_scheduler_lost_track_of_is_handed_out_again(
    machines: Machines, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("planner.resampling.search.executors.PATIENCE_SECONDS", 2)
    with Cluster(machines.address) as crew:
        shared = crew.share(7)
        assert crew.submit(stuck_once, str(tmp_path / "begun"), shared).result() == 7


def test_a_scheduler_that_goes_away_is_told(machines: Machines, monkeypatch: pytest.MonkeyPatch) -> None:
    cut_small(monkeypatch)
    monkeypatch.setattr("planner.resampling.search.executors.PATIENCE_SECONDS", 2)

    def leave(done: int, _total: int, _what: str) -> None:
        if done == 3:
            machines.stop()

    with (
        pytest.raises(InputError, match="no longer answers"),
        Cluster(machines.address) as crew,
        surroundings(crew=crew),
    ):
        search(progress=leave)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "tcp://", "http://127.0.0.1:9"])
def test_an_address_where_nobody_answers_is_told(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.resampling.search.executors.CONNECT_SECONDS", 1)
    before = clients()  # of other tests, which are no matter
    with pytest.raises(InputError, match="No scheduler answers"):
        Cluster(address)
    assert clients() <= before  # one that is left would stop the next one


def clients() -> set[int]:
    """Every client that this process still holds."""
    return {id(thing) for thing in gc.get_objects() if type(thing) is distributed.Client}
