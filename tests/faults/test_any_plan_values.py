"""Any number under any key of a plan: a plan or problems that say something, an answer or one message, no warning."""

from __future__ import annotations

import json
import re
import tempfile
import warnings
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.pipeline import score
from planner.read import check_plan
from planner.read.plan.plan_tables import LISTS, TABLES
from planner.terms.plan.settings import Plan
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

strengths = st.lists(
    st.tuples(numbers, st.sampled_from(["MPa", "psi", "ksi", "kN", ""])).map(lambda pair: f'"{pair[0]} {pair[1]}"'),
    max_size=3,
).map(lambda items: f"[{', '.join(items)}]")
others = number_texts.map(lambda amount: f'[{{ name = "transport", amount = {amount}, per = "batch" }}]')

SPECIMENS = "[specimens]"  # as a plan writes a table of a list, between further brackets
KEYS = {
    ("mix", "final_set_h"): number_texts,
    ("mix", "aggregate_mm"): number_texts,
    ("mix", "fibre_mm"): number_texts,
    ("prior", "standard_curing_c"): number_texts,
    ("prior", "within_test_cv"): shares,
    ("prior", "between_batch_cv"): shares,
    ("prior", "strength_28d_mpa"): number_texts,
    ("temperature_file", "skip_rows"): counts,
    ("target", "ages"): ages,
    ("target", "strengths"): strengths,
    ("target", "tolerance"): shares,
    ("target", "assurance"): shares,
    ("target", "weights"): lists,
    ("target", "over_prediction_weight"): number_texts,
    ("target", "immaterial"): shares,
    ("site", "mean_concrete_temperature_c"): pairs,
    ("choices", "ages"): ages,
    ("choices", "fewest_ages"): counts,
    ("choices", "most_ages"): counts,
    ("choices", "specimens_per_age"): pairs,
    ("choices", "required_ages"): ages,
    ("choices", "minimum_gap"): durations,
    ("choices", "least_strength_mpa"): number_texts,
    ("choices", "most_visits"): counts,
    ("budget", "specimens"): counts,
    ("budget", "cost"): number_texts,
    ("budget", "latest_age"): durations,
    ("budget", "ready_by"): durations,
    ("maturity", "equivalent_age_q_k"): lists,
    ("maturity", "datum_c"): lists,
    ("maturity", "reference_c"): number_texts,
    ("programme", "instrumented"): counts,
    ("programme", "spares"): shares,
    ("programme", "companions_per_check"): counts,
    ("programme", "checks"): counts,
    ("programme", "trial_batches"): st.one_of(counts, pairs),
    ("pours", "early_ages"): ages,
    ("pours", "specimens_per_age"): pairs,
    ("pours", "most_specimens"): counts,
    ("pours", "number"): counts,
    ("costs", "specimen"): number_texts,
    ("costs", "preparation"): number_texts,
    ("costs", "break"): number_texts,
    ("costs", "visit"): number_texts,
    ("costs", "casting"): number_texts,
    ("costs", "casting_outside_hours"): number_texts,
    ("costs", "visit_outside_hours"): number_texts,
    ("costs", "instrumented"): number_texts,
    ("costs", "fixed"): number_texts,
    ("costs", "pour_break"): number_texts,
    ("costs", "check_visit"): number_texts,
    ("costs", "contingency"): shares,
    ("costs", "other"): others,
    ("laboratory", "minutes_per_break"): number_texts,
    ("laboratory", "machines"): counts,
    ("laboratory", "machine_kn"): pairs,
    ("laboratory", "form_removal"): durations,
    (SPECIMENS, "specimen"): number_texts,
    (SPECIMENS, "preparation"): number_texts,
    (SPECIMENS, "break"): number_texts,
    (SPECIMENS, "minutes_per_break"): number_texts,
    (SPECIMENS, "within_test_cv"): shares,
    (SPECIMENS, "factor"): number_texts,
    (SPECIMENS, "factor_cv"): shares,
}
# What holds words: names, files, hours, days, dates and geometries, sound ones and what a slip makes of them.
words = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=12),
    st.sampled_from(["", " ", "breaks.csv", "no such.csv", "../breaks.csv", "batch", "mix", "=1+1", "x" * 3000]),
)
hours = st.one_of(
    words,
    st.tuples(st.integers(-1, 25), st.integers(-1, 61), st.integers(-1, 25)).map(lambda t: f"{t[0]}:{t[1]}-{t[2]}:00"),
    st.sampled_from(["07:00-17:00", "22:00-06:00", "07:00-07:00", "00:00-24:00", "24:00-00:00", "7-17", "07:00"]),
)
days = st.one_of(words, st.sampled_from(["Mon-Fri", "Fri-Mon", "Mon", "Mon-Mon", "Mon,Tue", "monday", "Mon-Fri-Sun"]))
dates = st.sampled_from(["2027-03-19", "2027-02-29", "9999-12-31", "0001-01-01", "19.03.2027", "2027-03-19T10:00", ""])
zones = st.one_of(words, st.sampled_from(["Europe/Oslo", "UTC", "Etc/GMT-1", "Oslo", "../UTC", "Europe/Oslo\x00"]))
specimens = st.one_of(
    words,
    st.tuples(st.sampled_from(["cube", "cylinder", "prism"]), numbers, st.sampled_from(["mm", "in", ""])).map(
        lambda t: f"{t[0]} {t[1]} {t[2]}"
    ),
    st.sampled_from(["cube 100 mm", "cylinder 100x200 mm", "cylinder 4x8 in", "cylinder 0x0 mm", "cube 1e300 mm"]),
)
schedules = st.one_of(
    words,
    st.tuples(numbers, st.sampled_from(["h", "d"]), numbers).map(lambda t: f"{t[0]} {t[1]} x{t[2]}"),
    st.sampled_from(["1 d x3, 3 d x3, 28 d x3", "1 d x3, 1 d x3", "1 d x0", "1 d", "x3", "28 d x3, 1 d x3"]),
)
names = st.sampled_from(
    [
        *("batch", "mix", "mean", "worst", "later pour", "own batch", "standard", "site", "SI", "US", "C", "F"),
        *(
            "cast_at",
            "first reading",
            "hyperbolic",
            "shape prior",
            "EN 1992-1-1 class R",
            "ASTM C39",
            "EUR",
            "mortar.csv",
        ),
    ]
)
TEXTS = {
    ("mix", "name"): words,
    ("prior", "breaks"): words,
    ("prior", "temperatures"): words,
    ("prior", "batches"): words,
    ("prior", "hold_out"): names,
    ("prior", "geometry"): specimens,
    ("prior", "property"): words,
    ("prior", "time_format"): words,
    ("prior", "published"): names,
    ("temperature_file", "time_format"): words,
    ("temperature_file", "time_zone"): zones,
    ("temperature_file", "columns"): words,
    ("temperature_file", "unit"): names,
    ("temperature_file", "age_zero"): names,
    ("target", "combine"): names,
    ("target", "judged_on"): names,
    ("target", "geometry"): specimens,
    ("curves", "families"): names,
    ("maturity", "mortar"): words,
    ("compare", "schedules"): schedules,
    ("pours", "curing"): names,
    ("costs", "currency"): words,
    ("laboratory", "open"): hours,
    ("laboratory", "days"): days,
    ("laboratory", "closed"): dates,
    ("laboratory", "time_zone"): zones,
    ("laboratory", "age_tolerances"): st.one_of(names, words),
    ("laboratory", "casting_hours"): hours,
    ("output", "units"): names,
    (SPECIMENS, "geometry"): specimens,
}
LISTED = {("curves", "families"), ("compare", "schedules"), ("laboratory", "closed")}
one_text = st.sampled_from(sorted(TEXTS)).flatmap(
    lambda key: st.tuples(st.just(key), st.one_of(TEXTS[key].map(lambda text: in_toml(text, key)), number_texts, lists))
)


def in_toml(text: str, key: tuple[str, str]) -> str:
    """A string as a plan writes it, in a list where the key wants one."""
    quoted = json.dumps(text, ensure_ascii=True).replace("\\ud", "\\u0")
    return f"[{quoted}]" if key in LISTED else quoted


BASE = {**PLAN, "target": 'ages = ["1 d"]\ntolerance = "10 %"'}
# What a table cannot do without, and what else a key asks for.
NEEDED = {
    "costs": 'currency = "EUR"',
    "pours": 'early_ages = ["12 h"]',
    SPECIMENS: 'geometry = "cube 100 mm"',
}
CONVERTED = (("target", "geometry"), '"cylinder 150x300 mm"')
ASKED_BESIDE = {
    ("budget", "cost"): ((("costs", "visit"), "90"),),
    (SPECIMENS, "specimen"): ((("costs", "visit"), "90"),),
    (SPECIMENS, "preparation"): ((("costs", "visit"), "90"),),
    (SPECIMENS, "break"): ((("costs", "visit"), "90"),),
    (SPECIMENS, "factor"): (CONVERTED, ((SPECIMENS, "factor_cv"), '"5 %"')),
    (SPECIMENS, "factor_cv"): (CONVERTED, ((SPECIMENS, "factor"), "0.85")),
}
one_key = st.sampled_from(sorted(KEYS)).flatmap(lambda key: st.tuples(st.just(key), KEYS[key]))


def changed(*changes: tuple[tuple[str, str], str]) -> str:
    """The plan of the invented study with some keys set, and what they ask for beside them."""
    tables: dict[str, str | None] = dict(BASE)
    beside = [change for key, _ in changes for change in ASKED_BESIDE.get(key, ())]
    for (table, key), text in [*beside, *changes]:
        kept = (tables.get(table) or NEEDED.get(table) or "").splitlines()
        lines = [line for line in kept if not line.startswith(f"{key} =")]
        tables[table] = "\n".join([*lines, f"{key} = {text}"])
    return plan_text(**tables)


def rows() -> Rows:
    """Four batches with scatter, so that something can be judged."""
    generator = np.random.default_rng(1)
    found: Rows = [["batch", "geometry", "curing", "age_h", "strength_mpa"]]
    for batch in "ABCD":
        level = 1 + 0.06 * generator.standard_normal()
        for age, mpa in ((12, 10.0), (24, 20.0), (72, 30.0), (672, 50.0)):
            for _ in range(3):
                broken = level * mpa * (1 + 0.03 * generator.standard_normal())
                found.append([batch, "cube 100 mm", "standard", age, broken])
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


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(change=one_text)
def test_any_words_under_any_key_are_read_or_refused(change: tuple[tuple[str, str], str]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        read(changed(change))


WRITTEN = {**TABLES, **{f"[{name}]": table for name, table in LISTS.items()}}


def test_every_key_of_the_plan_is_tried() -> None:
    """A key that is added to the plan must be added to one of the two lists."""
    every = {
        (name, key) for name, table in WRITTEN.items() for key in table.model_json_schema(by_alias=True)["properties"]
    }
    assert every == set(KEYS) | set(TEXTS)
    assert not set(KEYS) & set(TEXTS)


def test_every_key_that_holds_numbers_is_tried() -> None:
    """What its schema says of a key tells whether it holds numbers."""
    holds_numbers = {
        (name, key)
        for name, table in WRITTEN.items()
        for key, kind in table.model_json_schema(by_alias=True)["properties"].items()
        if re.search(r'"(number|integer)"|\\\\d', json.dumps(kind))
    }
    assert holds_numbers == set(KEYS)


def test_a_schedule_beyond_the_limits_is_scored_and_said_to_be_beyond_them() -> None:
    _, found = score(study(), Schedule((12.0, 72.0, 168.0), (3, 3, 8)), n_draws=20, workers=1)
    (caution,) = [caution for caution in found.cautions if caution.code == "beyond-limits"]
    assert "14 specimens, [budget] specimens is 12; fewer or more specimens" in caution.text
    _, found = score(study(), Schedule((12.0, 72.0, 168.0), (3, 3, 3)), n_draws=20, workers=1)
    assert all(caution.code != "beyond-limits" for caution in found.cautions)
