"""The whole command on half a million schedules, and what a second core buys. Opt-in: `pytest tests/speed -s`.

Twelve ages with none, two or three specimens each, eight batches, five curves, both weightings, eight maturity
settings: 34 million joint choices. Whole processes are timed, compiled code cached.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from planner import pipeline
from planner.pipeline import recommend
from planner.read import load_plan
from planner.resampling import Scoring, error_matrix, joints_of
from planner.steps import whole_calibration
from planner.steps.allowed_choices import offered_choices
from planner.verdict.answers.recommendation import advice
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.writing import write_programme
from tests.speed.processes import run
from tests.speed.results_rows import END, renew, renew_row, with_row

SCENARIOS = Path(__file__).parents[2] / "scenarios"
RUNWAY = SCENARIOS / "runway-panels" / "plan.toml"
AGES_H = (4, 5, 6, 8, 10, 12, 24, 48, 72, 168, 336, 672)
PLAN = """
[prior]
breaks = "breaks.csv"
temperatures = "temperatures.csv"
standard_curing_c = 20
[target]
ages = ["6 h"]
tolerance = "10 %"
[choices]
ages = [{ages}]
fewest_ages = 2
most_ages = {n_ages}
specimens_per_age = [{fewest}, {most}]
[budget]
specimens = {budget}
[maturity]
equivalent_age_q_k = [4000, 4500, 5000, 5500]
datum_c = [-10, -5, 0, 5]
"""
N_CHOICES = 3**12 - 1 - 2 * 12  # all but the empty one and those of one age
FEWER_AGES_H = (4, 6, 8, 10, 12, 24, 48, 72, 168, 672)
N_TWO_MILLIONS = 5**9 - 1 - 4 * 9
N_MILLIONS = 5**10 - 1 - 4 * 10  # ten ages with none or two to five specimens each
SECONDS, PEAK_MB = 60, 800  # what the search of so many may cost on two cores


def written_plan(folder: Path, ages_h: tuple[int, ...], counts: tuple[int, int]) -> Path:
    """A plan over ages of invented records, with all counts between two at each."""
    write_programme(folder, replace(RUNWAY_PANELS, standard_ages_h=ages_h, n_batches=8), 3)
    ages = ", ".join(f'"{age} h"' for age in ages_h)
    fewest, most = counts
    text = PLAN.format(ages=ages, n_ages=len(ages_h), fewest=fewest, most=most, budget=most * len(ages_h))
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    return folder / "plan.toml"


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written_plan(tmp_path_factory.mktemp("twelve-ages"), AGES_H, (2, 3))


def test_the_demo_the_first_time_and_again(tmp_path: Path) -> None:
    nothing_compiled = str(tmp_path / "compiled")
    print()
    answers = []
    for name in ("the first time, all loops compiled", "again", "again"):
        seconds, peak, document = run(RUNWAY, "--out", str(tmp_path / "answer"), NUMBA_CACHE_DIR=nothing_compiled)
        print(f"the demo with all files, {name}: {seconds:.1f} s, {peak:.0f} MB")
        answers.append(document["recommended"])
    assert answers[0] == answers[1] == answers[2]


def test_half_a_million_schedules(plan_file: Path, tmp_path: Path) -> None:
    run(plan_file)  # compiles where nothing is cached
    seconds, peak, document = run(plan_file, "--out", str(tmp_path / "answer"))
    search = document["search"]
    print(f"\n{search['n_choices']:,} schedules, {search['n_joint_choices']:,} joint choices, all files written:")
    print(f"  {seconds:.1f} s, {peak:.0f} MB")
    assert search["n_choices"] == N_CHOICES
    assert seconds < SECONDS
    assert peak < PEAK_MB


@pytest.mark.parametrize("command", ["recommend", "price", "minimum"])
@pytest.mark.parametrize(
    ("ages_h", "counts", "n_choices"),
    [(AGES_H, (2, 3), N_CHOICES), (FEWER_AGES_H[:-1], (2, 5), N_TWO_MILLIONS), (FEWER_AGES_H, (2, 5), N_MILLIONS)],
    ids=["half", "two", "ten"],
)
def test_schedules_by_the_million(
    command: str, ages_h: tuple[int, ...], counts: tuple[int, int], n_choices: int, tmp_path: Path
) -> None:
    path = written_plan(tmp_path, ages_h, counts)
    seconds, peak, document = run(path, command=command)
    search = (document if command == "recommend" else document["recommendation"])["search"]
    print(f"\n{command} of {search['n_choices']:,} schedules: {seconds:.1f} s, {peak:,.0f} MB")
    assert search["n_choices"] == n_choices
    renew(f"`{command}` of {n_choices:,} schedules, no files", seconds, peak)


def test_a_command_renews_its_own_row_alone() -> None:
    text = f"| head | | |\n| `price` of 9 schedules (2026-01-01) | 5 s | kept beside |\n| other | 1 s | |\n{END}\n"
    lines = with_row(text, "`price` of 9 schedules", "3.0 s, 400 MB").splitlines()
    assert lines[1].endswith("| 3.0 s, 400 MB | kept beside |")
    assert (lines[0], lines[2], len(lines)) == ("| head | | |", "| other | 1 s | |", 4)
    more = with_row(text, "new", "2 s").splitlines()
    assert more[3].startswith("| new (")
    assert more[-1] == END


def test_two_cores_against_one(plan_file: Path) -> None:
    plan = load_plan(plan_file)
    cells, _offered, choices = offered_choices(plan)
    joints = joints_of(plan.settings.curves, cells.settings)
    scoring = Scoring.of(cells, plan.settings.target)
    seconds, found = {}, {}
    for n_workers in (1, 2) * 3:
        started = time.perf_counter()
        found[n_workers] = error_matrix(cells, choices, joints, scoring, n_workers=n_workers)
        spent = time.perf_counter() - started
        seconds[n_workers] = min(spent, seconds.get(n_workers, spent))
    assert (found[1].score == found[2].score).all()
    assert (found[1].loss == found[2].loss).all()
    print(f"\nsearch of {len(choices) * len(joints):,} joint choices: {seconds[1]:.2f} s on one core, ", end="")
    print(f"{seconds[2]:.2f} s on two: {seconds[1] / seconds[2]:.2f} times as fast, equal to the last bit")


PARTS = {
    "leaving batches out, bootstrap and ladder of counts": ((advice, "judged_on_held_out"), (advice, "enough_row_of")),
    "early breaks of later pours": ((whole_calibration, "early_breaks"),),
    "what follows the first breaks": ((whole_calibration, "if_then"),),
    "constants of maturity": ((whole_calibration, "constants_study"), (advice, "careful_answer")),
    "waiting and site checks": ((advice, "waiting"), (advice, "announced_checks")),
    "geometry and conversion": ((pipeline, "settled"),),
}


@pytest.mark.parametrize("scenario", ["runway-panels", "sleepers"])
def test_what_each_part_of_the_answer_takes(scenario: str, monkeypatch: pytest.MonkeyPatch) -> None:
    spent = dict.fromkeys(PARTS, 0.0)

    def timed(part: str, room: ModuleType, name: str) -> None:
        real = getattr(room, name)

        def wrapped(*given: object, **options: object) -> object:
            started = time.process_time()
            answer = real(*given, **options)
            spent[part] += time.process_time() - started
            return answer

        monkeypatch.setattr(room, name, wrapped)

    plan = load_plan(SCENARIOS / scenario / "plan.toml")
    recommend(plan)  # compiles
    for part, places in PARTS.items():
        for room, name in places:
            timed(part, room, name)
    started = time.process_time()
    recommend(plan)
    whole = time.process_time() - started
    shares = ", ".join(f"{part} {100 * took / whole:.0f} %" for part, took in spent.items())
    print(f"\n{scenario}: {whole:.1f} s of processor time, of it {shares}")
    renew_row(f"parts of the answer of {scenario}, shares of processor time", shares)
    judging = spent["leaving batches out, bootstrap and ladder of counts"]
    assert 0 < judging < 0.5 * (whole - judging)
    assert all(took > 0 for part, took in spent.items() if part != "geometry and conversion" or scenario == "sleepers")
