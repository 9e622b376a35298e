"""Whole commands with values at the edge: exit code 0, 2 or 3, within a stated time, no traceback, no raw warning.

Times are processor seconds of this process, so that they hold beside other work.
"""

from __future__ import annotations

import tempfile
import time
import warnings
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.cli.main import main
from tests.faults.test_any_plan_values import changed, edges, rows
from tests.faults.test_plan_bounds import REFUSED
from tests.read.invented_study import plan_text, write_study

REFUSED_WITHIN_S = 1.0
ANSWERED_WITHIN_S = 30.0  # of four batches and a hundred schedules; most of it is loading compiled loops the first time
LABORATORY = 'open = "07:00-17:00"\ndays = "Mon-Fri"\ntime_zone = "Europe/Oslo"'
COSTS = 'currency = "EUR"\nspecimen = 18\nbreak = 25\nvisit = 90\nvisit_outside_hours = 240'


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str
    seconds: float


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]):
    def run_command(*words: object) -> Ended:
        capsys.readouterr()
        started = time.process_time()
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with pytest.raises(SystemExit) as left:
                main([str(word) for word in words])
        seconds = time.process_time() - started
        caught = capsys.readouterr()
        assert isinstance(left.value.code, int)
        assert "Traceback" not in caught.err
        assert "Warning" not in caught.err
        return Ended(left.value.code, caught.out, caught.err, seconds)

    return run_command


@pytest.fixture(scope="module", autouse=True)
def loaded() -> None:
    """Nobody waits for a first import again and again."""
    import planner.pipeline  # noqa: F401


@pytest.mark.parametrize(("table", "text", "column", "_said"), REFUSED, ids=range(len(REFUSED)))
def test_what_no_plan_can_mean_ends_at_once(
    run, tmp_path: Path, table: str, text: str, column: str, _said: str
) -> None:
    path = write_study(tmp_path, plan=plan_text(**{table: text}))
    for command in ("recommend", "price", "minimum"):
        ended = run(command, path)
        assert (ended.code, ended.out) == (2, "")
        assert column in ended.err
        assert ended.seconds < REFUSED_WITHIN_S


@pytest.mark.parametrize("option", [("--draws", 10**12), ("--workers", 10**9)])
def test_more_work_than_can_be_done_is_refused_at_once(run, tmp_path: Path, option: tuple[str, int]) -> None:
    ended = run("recommend", write_study(tmp_path, breaks=rows()), *option)
    assert ended.code == 2
    assert option[0] in ended.err
    assert ended.seconds < REFUSED_WITHIN_S


@settings(max_examples=6, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changes=edges, command=st.sampled_from(["price", "minimum"]))
def test_price_and_minimum_end_in_an_answer_or_one_message(run, changes, command: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = write_study(Path(folder), breaks=rows(), plan=changed(*dict(changes).items()))
        ended = run(command, path, "--draws", 20, "--workers", 1)
    assert ended.code in (0, 2, 3)
    assert len(ended.out if ended.code == 0 else ended.err) > 40
    assert (ended.out == "") == (ended.code != 0)
    assert ended.seconds < ANSWERED_WITHIN_S


def test_a_window_of_a_year_is_priced_and_one_of_thirty_is_refused(run, tmp_path: Path) -> None:
    path = write_study(tmp_path, breaks=rows(), plan=plan_text(laboratory=LABORATORY, costs=COSTS))
    year = run(
        *("recommend", path, "--draws", 20, "--workers", 1, "--json", "--cast", "2027-03-01 22:00/2028-02-29 22:00")
    )
    assert year.code == 0, year.err
    assert year.seconds < ANSWERED_WITHIN_S
    many = run("recommend", path, "--cast", "2027-03-01 22:00/2057-03-01 22:00")
    assert (many.code, many.out) == (2, "")
    assert "a window of 10,958 days, more than the 366" in many.err
    assert many.seconds < REFUSED_WITHIN_S
