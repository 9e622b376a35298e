"""More files with one slip, told or refused: lone cells, marks of rejection, loads and sizes, limits of the plan."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.read.breaks.doubts.copied_batches import LEAST_SHARE, report_copies
from planner.read.parsing.findings import Findings
from planner.terms.records import Break, Curing
from tests.read.invented_study import PLAN, Rows, plan_text, write_study
from tests.read.slips.test_wrong_files import add, changed, put, study, told, where

P, T, C, BUDGET = PLAN["prior"], PLAN["target"], PLAN["choices"], PLAN["budget"]


def loaded(rows: Rows, *, diameter: float = 100.0, height: float = 200.0, times: float = 1.0) -> None:
    """Loads of a cylinder of 100 mm [kN] times a factor, with sizes beside them."""
    rows[0][4] = "load_kn"
    rows[0] += ["diameter_mm", "height_mm"]
    for row in rows[1:]:
        row[4] = round(7.854 * float(str(row[4])) * times, 2)
        row += [diameter, height]


def with_actual(rows: Rows, times: float) -> None:
    rows[0].append("tested_h")
    for row in rows[1:]:
        row.append(float(str(row[3])) * times)


def shifted(rows: Rows, batch: str) -> None:
    """The ages of a batch pushed up by one age."""
    held = where(rows, batch=batch)
    ages = [row[3] for row in held]
    for row, age in zip(held, ages[2:] + ages[:2], strict=True):
        row[3] = age


BREAKS: dict[str, tuple[Callable[[Rows], object], tuple[str, ...]]] = {
    "672 as 627": (lambda r: put(r, "age_h", 627, batch="S2", age_h=672), ("CAUTION", '"S2" alone', "write 672 h")),
    "24 as 42": (lambda r: put(r, "age_h", 42, batch="S2", age_h=24), ("CAUTION", "rows 18, 19", "write 24 h")),
    "168 as 186": (lambda r: put(r, "age_h", 186, batch="S3", age_h=168), ("CAUTION", "at 186 h", "write 168 h")),
    "two batches under one name": (
        lambda r: put(r, "batch", "S1", batch="S4"), ("CAUTION", '"S1" (from row 2)', "name them apart"),
    ),
    "site for standard at one age": (
        lambda r: put(r, "curing", "site", batch="S1", age_h=672), ("CAUTION", '"S1" alone has site', "28 d"),
    ),
    "one batch filled down": (
        lambda r: put(r, "strength_mpa", 20.0, batch="S3"), ("CAUTION", "all 12 breaks", "20 MPa", "6 ages"),
    ),
    "ages pushed up": (lambda r: shifted(r, "S2"), ("CAUTION", "falls with age")),
    "qc FAIL": (lambda r: add(r, "qc", "FAIL", otherwise="PASS"), ("REFUSED", "row 3", '"FAIL" under "qc"')),
    "out of calibration": (
        lambda r: add(r, "remark", "machine out of calibration"), ("REFUSED", "row 3", 'Rename it to "void"'),
    ),
    "withdrawn": (lambda r: add(r, "note", "withdrawn"), ("REFUSED", "row 3", '"withdrawn"')),
    "not used": (lambda r: add(r, "note", "not used"), ("REFUSED", "row 3", '"not used"')),
    "fail x": (lambda r: add(r, "fail", "x"), ("REFUSED", "row 3", '"x" under "fail"')),
    "one column nobody reads": (lambda r: add(r, "retest", "R"), ("CAUTION", '"retest" is no column')),
    "two columns nobody reads": (
        lambda r: (add(r, "retest", "R"), add(r, "n", 3)), ("CAUTION", '"retest", "n" are no columns'),
    ),
    "diameter in cm": (lambda r: loaded(r, diameter=10.0, height=20.0), ("REFUSED", "row 2", "stronger than any")),
    "one diameter of 150": (lambda r: (loaded(r), r[5].__setitem__(5, 150.0)), ("CAUTION", "1.8 times", "rows 6")),
    "height before diameter": (lambda r: loaded(r, diameter=200.0, height=100.0), ("CAUTION", "1.8 times as high")),
    "half the height": (lambda r: loaded(r, height=100.0), ("CAUTION", "length/diameter correction")),
    "loads in newtons": (lambda r: loaded(r, times=1000.0), ("REFUSED", "row 2", "column load_kn", "stronger")),
    "loads in tonnes": (lambda r: loaded(r, times=1 / 9.81), ("CAUTION", "few concretes are")),
    "actual ages in minutes": (lambda r: with_actual(r, 60.0), ("REFUSED", "row 2", "nominal age is 6 h")),
    "actual ages in days": (lambda r: with_actual(r, 1 / 24), ("REFUSED", "row 2", "0.25 h")),
    "a sum of two specimens": (
        lambda r: r.__setitem__(5, ["S1", "M", "standard", 12, 28.1]), ("CAUTION", "range", "rows 4, 5, 6"),
    ),
    "tensile for compressive": (
        lambda r: [row.__setitem__(4, round(float(str(row[4])) / 10, 2)) for row in r[1:]],
        ("CAUTION", "few concretes are"),
    ),
    "flexural among them": (
        lambda r: add(r, "property", "flexural", otherwise="compressive"), ("CAUTION", "1 of 48 rows", "not used"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BREAKS)
def test_a_slip_in_a_table_is_told(tmp_path: Path, name: str) -> None:
    change, expected = BREAKS[name]
    said = told(write_study(tmp_path, breaks=changed(change)))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


EUR = 'currency = "EUR"'
PLANS: dict[str, tuple[dict[str, str], tuple[str, ...]]] = {
    "latest age in hours": (
        {"budget": BUDGET + '\nlatest_age = "28 h"'}, ("CAUTION", "28 h leaves out 3 d, 28 d", "unit"),
    ),
    "a gap of days": ({"choices": C + '\nminimum_gap = "1 d"'}, ("CAUTION", "choices.minimum_gap", '"1 h"')),
    "least strength of a target": ({"choices": C + "\nleast_strength_mpa = 30"}, ("CAUTION", "weaker than 30 MPa")),
    "final set after the target": ({"mix": "final_set_h = 15"}, ("CAUTION", "the target 12 h", "final set at 15 h")),
    "a holiday of 1927": ({"laboratory": 'closed = ["1927-03-19"]'}, ("CAUTION", "1927-03-19 lies in the past")),
    "ten hours a break": ({"laboratory": "minutes_per_break = 600"}, ("CAUTION", "600 minutes for a break")),
    "six seconds a break": ({"laboratory": "minutes_per_break = 0.1"}, ("CAUTION", "0.1 minutes for a break")),
    "300 companions": ({"programme": "companions_per_check = 300"}, ("CAUTION", "300 companions", "3 are usual")),
    "40 sensors": ({"programme": "instrumented = 40"}, ("CAUTION", "40 specimens with sensors")),
    "contingency without per cent": ({"costs": EUR + "\ncontingency = 10"}, ("REFUSED", '"10 %"')),
    "early breaks after the target": (
        {"pours": 'early_ages = ["3 d"]\nspecimens_per_age = [1, 2]\nmost_specimens = 4'}, ("REFUSED", "not before"),
    ),
    "datum in F": ({"maturity": "datum_c = [14, 32]"}, ("REFUSED", "below the reference")),
    "trial batches turned round": ({"programme": "trial_batches = [3, 1]"}, ("REFUSED", "[1, 3]")),
    "no machine": ({"laboratory": "machines = 0"}, ("REFUSED", "positive whole number")),
    "a geometry in inches": ({"prior": P + '\ngeometry = "cylinder 4x8 in"'}, ("REFUSED", "No break has")),
    "published beside breaks": (
        {"prior": P + '\npublished = "EN 1992-1-1 class R"'}, ("REFUSED", "Leave out either"),
    ),
    "2400 specimens": ({"budget": "specimens = 2400"}, ("CAUTION", "budget.specimens: 2400", "has 16", "noughts")),
    "a target of 12 d": (
        {"target": T.replace("12 h", "12 d")}, ("CAUTION", "target.ages", "12 d, but 4 of 4", 'write "12 h"'),
    ),
    "a target of 28 h": ({"target": T.replace("12 h", "28 h")}, ("CAUTION", "Were days meant", 'write "28 d"')),
    "28 h offered": (
        {"choices": C.replace("28 d", "28 h")}, ("CAUTION", "choices.ages", 'write "28 d"'),
    ),
    "ready by ten": ({"budget": BUDGET + "\nready_by = 10"}, ("REFUSED", '"10 h" or "10 d"')),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANS)
def test_a_slip_in_a_plan_is_told(tmp_path: Path, name: str) -> None:
    tables, expected = PLANS[name]
    said = told(write_study(tmp_path, breaks=study(), plan=plan_text(**tables)))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


def _thrice(rows: Rows) -> None:
    """One batch has three specimens where the others have two."""
    rows += [[*row[:4], float(str(row[4])) + 0.3] for row in where(rows, batch="S1")[::2]]


MEANT: dict[str, Callable[[Rows], object]] = {
    "an age of its own": lambda r: put(r, "age_h", 680, batch="S2", age_h=672),  # other digits, so another age
    "an age more": lambda r: r.append(["S2", "M", "standard", 627, 46.0]),  # 672 h is there too
    "three specimens": _thrice,
    "companions beside": lambda r: r.append(["S1", "M", "site", 672, 46.0]),
    "one equal pair": lambda r: put(r, "strength_mpa", 20.0, batch="S3", age_h=24),
    "words that void nothing": lambda r: add(r, "qc", "PASS", otherwise="PASS"),
}


@pytest.mark.parametrize("name", MEANT)
def test_what_may_well_be_meant_gives_no_such_doubt(tmp_path: Path, name: str) -> None:
    said = told(write_study(tmp_path, breaks=changed(MEANT[name])))
    assert "alone has" not in said
    assert "twice the" not in said
    assert "breaks of batch" not in said
    assert "REFUSED" not in said


@pytest.mark.parametrize(
    "tables",
    [
        {"choices": C + '\nminimum_gap = "23 h"'},
        {"choices": C + "\nleast_strength_mpa = 10"},
        {"mix": "final_set_h = 12"},
        {"laboratory": "minutes_per_break = 60"},
        {"laboratory": "minutes_per_break = 1"},
        {"programme": "companions_per_check = 12"},
        {"programme": "instrumented = 6"},
        {"budget": BUDGET + '\nlatest_age = "28 d"'},
        {"laboratory": 'closed = ["2027-03-19"]'},
        {"budget": "specimens = 80"},
        {"budget": "specimens = 200", "programme": "trial_batches = [1, 3]"},
        {"target": T.replace("12 h", "5 d")},
        {"choices": C.replace('"12 h"', '"12 h", "28 h"')},
    ],
)
def test_plans_at_the_limit_are_read_without_a_word(tmp_path: Path, tables: dict[str, str]) -> None:
    assert "plan.toml" not in told(write_study(tmp_path, breaks=study(), plan=plan_text(**tables)))


def test_a_copy_without_the_companions_on_site_is_told() -> None:
    def batch(name: str, curing: Curing, values: list[float], age_h: float = 24.0) -> list[Break]:
        return [
            Break(batch=name, mix="M", curing=curing, age_h=age_h, tested_h=age_h, strength_mpa=value, row=row)
            for row, value in enumerate(values, start=2)
        ]

    values = [10.1, 11.2, 12.7, 13.3, 14.8, 15.1, 16.6, 17.9]
    site = batch("A", "site", [9.1, 9.6, 10.4, 8.8, 9.9, 10.2])
    for copied, is_told in ((values, True), ([*values[:-1], 18.0], False), (values[:7], False)):
        findings = Findings()
        report_copies("breaks.csv", [*batch("A", "standard", values), *site, *batch("B", "standard", copied)], findings)
        assert bool(findings.problems) is is_told
    assert LEAST_SHARE * (len(values) + len(site)) > len(values)  # of all breaks together it would be too few
