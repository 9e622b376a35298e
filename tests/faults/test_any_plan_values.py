"""Any number under any key of a plan: a plan or problems that say something, an answer or one message, no warning."""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.pipeline import recommend, score
from planner.read import check_plan
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError, NoScheduleError
from planner.terms.schedule import Schedule
from tests.faults.test_extremes import study
from tests.read.invented_study import PLAN, Rows, plan_text, write_study

# Strategies, one per noun: what people and programs put where a plan wants one.
HUGE = 10**400
numbers = st.one_of(
    st.integers(-(10**6), 10**6),
    st.floats(allow_nan=False),
    st.sampled_from([0, -0.0, 1, -1, 1e-308, 5e-324, 1e-160, 1e308, -1e308, 2**31, 2**63, 2**64, HUGE, -HUGE]),
)
number_texts = st.one_of(numbers.map(repr), st.sampled_from(["nan", "inf", "-inf", "true", '""', "[]", "{}", '"x"']))
shares = st.one_of(number_texts, numbers.map(lambda n: f'"{n} %"'))
durations = st.tuples(numbers, st.sampled_from(["h", "d", "min", "weeks", ""])).map(
    lambda pair: f'"{pair[0]} {pair[1]}"'
)
counts = number_texts
pairs = st.tuples(number_texts, number_texts).map(lambda pair: f"[{pair[0]}, {pair[1]}]")
lists = st.lists(number_texts, max_size=4).map(lambda items: f"[{', '.join(items)}]")
ages = st.lists(durations, max_size=3).map(lambda items: f"[{', '.join(items)}]")

KEYS = {
    ("mix", "final_set_h"): number_texts,
    ("prior", "standard_curing_c"): number_texts,
    ("prior", "within_test_cv"): shares,
    ("prior", "between_batch_cv"): shares,
    ("target", "ages"): ages,
    ("target", "tolerance"): shares,
    ("target", "assurance"): shares,
    ("target", "weights"): lists,
    ("target", "over_prediction_weight"): number_texts,
    ("site", "mean_concrete_temperature_c"): pairs,
    ("choices", "ages"): ages,
    ("choices", "fewest_ages"): counts,
    ("choices", "most_ages"): counts,
    ("choices", "specimens_per_age"): pairs,
    ("choices", "minimum_gap"): durations,
    ("choices", "least_strength_mpa"): number_texts,
    ("choices", "most_visits"): counts,
    ("budget", "specimens"): counts,
    ("budget", "cost"): number_texts,
    ("budget", "latest_age"): durations,
    ("maturity", "equivalent_age_q_k"): lists,
    ("maturity", "datum_c"): lists,
    ("maturity", "reference_c"): number_texts,
    ("programme", "instrumented"): counts,
    ("programme", "spares"): shares,
    ("programme", "companions_per_check"): counts,
    ("programme", "checks"): counts,
    ("programme", "trial_batches"): counts,
    ("costs", "specimen"): number_texts,
    ("costs", "preparation"): number_texts,
    ("costs", "break"): number_texts,
    ("costs", "visit"): number_texts,
    ("costs", "visit_outside_hours"): number_texts,
    ("costs", "instrumented"): number_texts,
    ("costs", "fixed"): number_texts,
    ("laboratory", "minutes_per_break"): number_texts,
    ("laboratory", "machines"): counts,
    ("laboratory", "form_removal"): durations,
}
NEEDED = {"costs": 'currency = "EUR"'}
one_key = st.sampled_from(sorted(KEYS)).flatmap(lambda key: st.tuples(st.just(key), KEYS[key]))
# Values that reading accepts at the edge of what it accepts, for whole runs.
EDGES = {
    ("target", "tolerance"): ["1e-4", "0.999999"],
    ("target", "assurance"): ["0.5", "0.999"],
    ("target", "over_prediction_weight"): ["1", "1e6"],
    ("target", "weights"): ["[1e-300]", "[1e12]"],
    ("prior", "within_test_cv"): ["1e-6", "0.999999"],
    ("prior", "between_batch_cv"): ["1e-6", "0.999999"],
    ("prior", "standard_curing_c"): ["-50", "45", '"120 C"'],
    ("choices", "least_strength_mpa"): ["0", "400"],
    ("choices", "minimum_gap"): ['"0 h"', '"40000 d"'],
    ("budget", "specimens"): ["1", "100000"],
    ("maturity", "equivalent_age_q_k"): ["[500]", "[20000]"],
    ("maturity", "datum_c"): ["[-50]", "[19.999]"],
    ("programme", "spares"): ["0", "10"],
    ("programme", "instrumented"): ["0", "100000"],
    ("costs", "specimen"): ["5e-324", "1e12"],
    ("costs", "visit_outside_hours"): ["0", "1e12"],
    ("laboratory", "minutes_per_break"): ["0.1", "1440"],
    ("laboratory", "machines"): ["1", "100000"],
    ("laboratory", "form_removal"): ['"1 min"', '"41000 d"'],
}
edges = st.lists(
    st.sampled_from(sorted(EDGES)).flatmap(lambda key: st.tuples(st.just(key), st.sampled_from(EDGES[key]))),
    min_size=1,
    max_size=3,
)


def changed(*changes: tuple[tuple[str, str], str]) -> str:
    """The plan of the invented study with some keys set."""
    tables: dict[str, str | None] = dict(PLAN)
    for (table, key), text in changes:
        kept = (tables.get(table) or NEEDED.get(table) or "").splitlines()
        lines = [line for line in kept if not line.startswith(f"{key} =")]
        tables[table] = "\n".join([*lines, f"{key} = {text}"])
    return plan_text(**tables)


def rows() -> Rows:
    """Four batches with scatter, so that something can be judged."""
    generator = np.random.default_rng(1)
    found: Rows = [["batch", "curing", "age_h", "strength_mpa"]]
    for batch in "ABCD":
        level = 1 + 0.06 * generator.standard_normal()
        for age, mpa in ((12, 10.0), (24, 20.0), (72, 30.0), (672, 50.0)):
            found += [
                [batch, "standard", age, level * mpa * (1 + 0.03 * generator.standard_normal())] for _ in range(3)
            ]
    return found


def read(plan: str) -> Plan | None:
    with tempfile.TemporaryDirectory() as folder:
        found, problems = check_plan(write_study(Path(folder), breaks=rows(), plan=plan))
    assert (found is None) == bool(problems)
    assert all(problem.file and 10 < len(problem.text) < 600 for problem in problems)
    return found


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(change=one_key)
def test_any_number_under_any_key_is_read_or_refused(change: tuple[tuple[str, str], str]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        read(changed(change))


@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changes=edges)
def test_whatever_is_read_ends_in_an_answer_or_one_message(changes: list[tuple[tuple[str, str], str]]) -> None:
    plan = read(changed(*dict(changes).items()))
    if plan is None:
        return
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        said: str | tuple[int, ...]
        try:
            said = recommend(plan, n_draws=20, workers=1).recommended.schedule.specimens
        except (InputError, NoScheduleError) as error:
            said = str(error)
    assert len(said) > (40 if isinstance(said, str) else 0)


def test_a_schedule_beyond_the_limits_is_scored_and_said_to_be_beyond_them() -> None:
    _, found = score(study(), Schedule((12.0, 72.0, 168.0), (3, 3, 8)), n_draws=20, workers=1)
    (caution,) = [caution for caution in found.cautions if caution.code == "beyond-limits"]
    assert "14 specimens, [budget] specimens is 12; fewer or more specimens" in caution.text
    _, found = score(study(), Schedule((12.0, 72.0, 168.0), (3, 3, 3)), n_draws=20, workers=1)
    assert all(caution.code != "beyond-limits" for caution in found.cautions)
