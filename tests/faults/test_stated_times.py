"""Whole commands with values at the edge: exit code 0, 2 or 3, within a stated time, no traceback, no raw warning.

Times are processor seconds of this process, so that they hold beside other work.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import time
import warnings
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.cli.main import main
from tests.faults.test_any_plan_values import SPECIMENS, changed, one_key, rows
from tests.faults.test_plan_bounds import REFUSED, forty_ages
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
    plan = write_study(tmp_path, breaks=rows())
    for words in (
        *(("recommend", plan), ("price", plan), ("minimum", plan), ("minimum", tmp_path), ("sweep", tmp_path)),
        *(
            ("score", plan, "--schedule", "12 h x3, 24 h x3, 72 h x3"),
            ("curve", plan, "--trial", tmp_path / "breaks.csv"),
        ),
    ):
        ended = run(*words, *option)
        assert (ended.code, ended.out) == (2, "")
        assert option[0] in ended.err
        assert ended.seconds < REFUSED_WITHIN_S


@pytest.mark.parametrize("words", ["recommend", "price", "minimum", "score --schedule", "curve --trial", "check"])
def test_more_schedules_than_can_be_searched_are_refused_at_once(run, tmp_path: Path, words: str) -> None:
    command, *option = words.split()
    given = {"--schedule": "6 h x3, 12 h x3, 24 h x3", "--trial": tmp_path / "breaks.csv"}
    ended = run(command, forty_ages(tmp_path), *((option[0], given[option[0]]) if option else ()))
    assert (ended.code, ended.out) == (2, "")
    assert "lower most_ages" in ended.err
    assert ended.seconds < REFUSED_WITHIN_S


@pytest.mark.parametrize("command", ["minimum", "sweep"])
def test_a_folder_of_such_plans_ends_at_once_and_names_them(run, tmp_path: Path, command: str) -> None:
    """A plan of a folder that cannot be used is a row of its table, not the end of the others."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        forty_ages(tmp_path / name)
    ended = run(command, tmp_path, "--workers", 1, "--json")
    assert len(re.findall(r"about 10\^64 schedules of 40 ages, more than the 20,000,000", ended.out)) == 2
    assert ended.seconds < ANSWERED_WITHIN_S


def test_a_curve_of_a_refused_plan_waits_for_no_compiled_loop(tmp_path: Path) -> None:
    """What computes takes a second to load; it is loaded when the files are good."""
    code = (
        "import sys\nfrom planner.cli.main import main\ntry:\n    main(sys.argv[1:])\n"
        "except SystemExit as left:\n    print(left.code, 'numba' in sys.modules)\n"
    )
    plan = forty_ages(tmp_path)
    ended = subprocess.run(
        [sys.executable, "-c", code, "curve", plan, "--trial", tmp_path / "breaks.csv"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert ended.stdout.split() == ["2", "False"]


@pytest.mark.parametrize("sequence", [b"SEQUENCE:2147483647", b"SEQUENCE:" + b"9" * 400])
def test_a_calendar_that_no_revision_can_follow_is_refused_at_once(run, tmp_path: Path, sequence: bytes) -> None:
    path = write_study(tmp_path, breaks=rows(), plan=plan_text(laboratory=LABORATORY))
    (tmp_path / "out").mkdir()
    calendar = tmp_path / "out" / "breaks.ics"
    calendar.write_bytes(b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n" + sequence + b"\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n")
    before = calendar.read_bytes()
    ended = run("recommend", path, "--cast", "2027-03-01 22:00", "--out", tmp_path / "out")
    assert (ended.code, ended.out) == (2, "")
    assert "breaks.ics" in ended.err
    assert ended.seconds < REFUSED_WITHIN_S
    assert [one.name for one in (tmp_path / "out").iterdir()] == ["breaks.ics"]
    assert calendar.read_bytes() == before


def test_a_folder_in_the_place_of_the_calendar_is_refused_at_once(run, tmp_path: Path) -> None:
    path = write_study(tmp_path, breaks=rows(), plan=plan_text(laboratory=LABORATORY))
    (tmp_path / "out" / "breaks.ics").mkdir(parents=True)
    ended = run("recommend", path, "--cast", "2027-03-01 22:00", "--out", tmp_path / "out")
    assert (ended.code, ended.out) == (2, "")
    assert "A folder stands where this file must go" in ended.err
    assert ended.seconds < REFUSED_WITHIN_S


@pytest.mark.parametrize(
    ("cast", "said"),
    [
        ("9999-12-31 23:00", "outside the years 2000 to 2100"),
        ("1927-03-01 22:00", "outside the years 2000 to 2100"),
        ("2027-03-28 02:30", "does not exist in Europe/Oslo"),
        ("2027-10-31 02:30", "+02:00"),  # comes twice
        ("9" * 400, "--cast"),
    ],
)
def test_a_casting_time_that_cannot_be_is_refused_at_once(run, tmp_path: Path, cast: str, said: str) -> None:
    path = write_study(tmp_path, breaks=rows(), plan=plan_text(laboratory=LABORATORY))
    for command in ("recommend", "price"):
        ended = run(command, path, "--cast", cast)
        assert (ended.code, ended.out) == (2, "")
        assert said in ended.err
        assert ended.seconds < REFUSED_WITHIN_S


Change = tuple[tuple[str, str], str]
# What is just accepted, by key, and leaves an answer; what may leave none is tried alone.
EDGES: dict[tuple[str, str], tuple[str, ...]] = {
    ("mix", "final_set_h"): ("0", "12"),
    ("mix", "aggregate_mm"): ("1e-9", "1e12"),
    ("mix", "fibre_mm"): ("1e-9", "1e12"),
    ("prior", "standard_curing_c"): ("-5", '"120 C"'),
    ("prior", "within_test_cv"): ("1e-6", "0.999999"),
    ("prior", "between_batch_cv"): ("1e-6", "0.999999"),
    ("target", "strengths"): ('["12 MPa"]', '["45 MPa"]'),
    ("target", "tolerance"): ("1e-4", "0.999999"),
    ("target", "assurance"): ("0.5", "0.999"),
    ("target", "over_prediction_weight"): ("1", "1e6"),
    ("target", "immaterial"): ("0", "0.0999"),
    ("site", "mean_concrete_temperature_c"): ("[-20, -20]", "[12, 100]"),
    ("choices", "required_ages"): ('["12 h"]', '["28 d"]'),
    ("choices", "minimum_gap"): ('"0 h"', '"12 h"'),
    ("choices", "least_strength_mpa"): ("0", "5"),
    ("choices", "most_visits"): ("3", "100000"),
    ("budget", "specimens"): ("8", "100000"),
    ("budget", "cost"): ("1e9", "1e12"),
    ("budget", "latest_age"): ('"28 d"', '"41000 d"'),
    ("budget", "ready_by"): ('"28 d"', '"41000 d"'),
    ("maturity", "equivalent_age_q_k"): ("[500]", "[20000]"),
    ("maturity", "datum_c"): ("[-50]", "[-5.001]"),
    ("maturity", "reference_c"): ("6", "45"),
    ("programme", "instrumented"): ("0", "100000"),
    ("programme", "spares"): ("0", "10"),
    ("programme", "companions_per_check"): ("0", "100000"),
    ("programme", "checks"): ("0", "100000"),
    ("programme", "trial_batches"): ("1", "[1, 5]"),
    ("pours", "specimens_per_age"): ("[1, 1]", "[4, 4]"),
    ("pours", "number"): ("1", "100000"),
    ("costs", "specimen"): ("5e-324", "1e12"),
    ("costs", "preparation"): ("0", "1e12"),
    ("costs", "break"): ("0", "1e12"),
    ("costs", "visit"): ("0", "1e12"),
    ("costs", "casting"): ("0", "1e12"),
    ("costs", "casting_outside_hours"): ("0", "1e12"),
    ("costs", "visit_outside_hours"): ("0", "1e12"),
    ("costs", "instrumented"): ("0", "1e12"),
    ("costs", "fixed"): ("0", "1e12"),
    ("costs", "pour_break"): ("0", "1e12"),
    ("costs", "check_visit"): ("0", "1e12"),
    ("costs", "contingency"): ("0", "0.999999"),
    ("costs", "other"): tuple(f'[{{ name = "a", amount = {n}, per = "litre" }}]' for n in ("0", "1e12")),
    ("laboratory", "minutes_per_break"): ("0.1", "10"),
    ("laboratory", "machines"): ("1", "100000"),
    ("laboratory", "machine_kn"): ("[0, 1e-9]", "[0, 10000]"),
    ("laboratory", "form_removal"): ('"1 min"', '"41000 d"'),
    (SPECIMENS, "specimen"): ("0", "1e12"),
    (SPECIMENS, "preparation"): ("0", "1e12"),
    (SPECIMENS, "break"): ("0", "1e12"),
    (SPECIMENS, "minutes_per_break"): ("0.1", "10"),
    (SPECIMENS, "within_test_cv"): ("1e-6", "0.999999"),
}
ALONE: tuple[Change, ...] = (
    (("prior", "standard_curing_c"), "-50"),
    (("target", "weights"), "[1e-300]"),
    (("target", "weights"), "[1e12]"),
    (("choices", "least_strength_mpa"), "400"),
    (("choices", "minimum_gap"), '"40000 d"'),
    (("budget", "specimens"), "1"),
    (("budget", "cost"), "1e-300"),
    (("maturity", "datum_c"), "[19.999]"),
    (("laboratory", "minutes_per_break"), "1440"),
    ((SPECIMENS, "factor"), "0.5"),
    ((SPECIMENS, "factor"), "2"),
    ((SPECIMENS, "factor_cv"), "1e-6"),
    ((SPECIMENS, "factor_cv"), "0.999999"),
)
N_TOGETHER = 6
COMMANDS = ("recommend", "price", "minimum")


def together() -> list[tuple[Change, ...]]:
    """Every edge once, several in a run: keys far apart in the list, lower and upper edges mixed."""
    found: list[list[Change]] = []
    n_runs = -(-len(EDGES) // N_TOGETHER)
    for turn in (0, 1):
        runs: list[list[Change]] = [[] for _ in range(n_runs)]
        for place, (key, values) in enumerate(EDGES.items()):
            runs[place % n_runs].append((key, values[(place // n_runs + turn) % 2]))
        found += runs
    return [tuple(changes) for changes in found]


def ends_well(ended: Ended) -> None:
    assert ended.code in (0, 2, 3)
    assert len(ended.out if ended.code == 0 else ended.err) > 40
    assert (ended.out == "") == (ended.code != 0)
    assert ended.seconds < ANSWERED_WITHIN_S


@pytest.mark.parametrize(("place", "changes"), list(enumerate(together())))
def test_edges_of_every_key_leave_an_answer(run, tmp_path: Path, place: int, changes: tuple[Change, ...]) -> None:
    path = write_study(tmp_path, breaks=rows(), plan=changed(*changes))
    ended = run(COMMANDS[place % len(COMMANDS)], path, "--draws", 20, "--workers", 1)
    ends_well(ended)
    assert ended.code == 0, ended.err


@pytest.mark.parametrize("change", ALONE, ids=str)
def test_edges_that_may_leave_none_end_in_an_answer_or_one_message(run, tmp_path: Path, change: Change) -> None:
    path = write_study(tmp_path, breaks=rows(), plan=changed(change))
    ends_well(run("recommend", path, "--draws", 20, "--workers", 1))


@settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(change=one_key, command=st.sampled_from(COMMANDS))
def test_any_number_under_any_key_ends_so_too(run, change: Change, command: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = write_study(Path(folder), breaks=rows(), plan=changed(change))
        ends_well(run(command, path, "--draws", 20, "--workers", 1))


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
