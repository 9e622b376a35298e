"""Files with one slip in them, as people make them: each is refused or cautioned with where, what and what to do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from planner.read import check_plan
from planner.read.breaks.doubts.copied_batches import report_copies
from planner.read.parsing.findings import Findings
from planner.terms.records import Break
from tests.read.invented_study import PLAN, Rows, csv_bytes, plan_text, write_study, xlsx_bytes

HEADINGS = ["batch", "mix", "curing", "age_h", "strength_mpa"]
LEVELS = {"S1": 1.0, "S2": 1.06, "S3": 0.94, "S4": 1.02}
MEANS = {6: 8.0, 12: 14.0, 24: 21.0, 48: 27.0, 168: 38.0, 672: 47.0}
DAYS = {24: 1, 48: 2, 168: 7, 672: 28, 6: 3, 12: 14}
SLIPS = (0.98, 1.02)
CURED = 'breaks = "breaks.csv"\ntemperatures = "temperatures.csv"\nstandard_curing_c = 20'


def study() -> Rows:
    """Four batches, six ages, two specimens each; headings first."""
    rows: Rows = [list(HEADINGS)]
    for batch, level in LEVELS.items():
        rows += [
            [batch, "M", "standard", age, round(level * mpa * slip, 1)] for age, mpa in MEANS.items() for slip in SLIPS
        ]
    return rows


def temperatures(*, last_h: float = 672.0, step_h: float = 2.0, times: float = 1.0, level_c: float = 20.0) -> Rows:
    """A record of every batch in the curing room."""
    rows: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    n_steps = int(last_h / step_h)
    for batch in LEVELS:
        rows += [[batch, "standard", n * step_h * times, level_c + 0.1 * (n % 5)] for n in range(n_steps + 1)]
    return rows


def told(path: Path) -> str:
    """All that reading a plan says."""
    plan, problems = check_plan(path)
    cautions = plan.records.cautions if plan is not None else ()
    return "\n".join([*(f"REFUSED {problem}" for problem in problems), *(f"CAUTION {c.text}" for c in cautions)])


def changed(change: Callable[[Rows], object]) -> Rows:
    rows = study()
    change(rows)
    return rows


def where(rows: Rows, **wanted: object) -> list[list[object]]:
    at = {HEADINGS.index(name): value for name, value in wanted.items()}
    return [row for row in rows[1:] if all(row[place] == value for place, value in at.items())]


def scale(rows: Rows, factor: float, **wanted: object) -> None:
    for row in where(rows, **wanted):
        row[4] = round(float(str(row[4])) * factor, 4)


def put(rows: Rows, column: str, value: object, **wanted: object) -> None:
    for row in where(rows, **wanted):
        row[HEADINGS.index(column)] = value


def add(rows: Rows, heading: str, mark: object, *, at: int = 3, otherwise: object = "") -> None:
    rows[0].append(heading)
    for number, row in enumerate(rows[1:], start=2):
        row.append(mark if number == at else otherwise)


def again(rows: Rows, batch: str, name: str) -> None:
    rows += [[name, *row[1:]] for row in where(rows, batch=batch)]


BREAKS: dict[str, tuple[Callable[[Rows], object], tuple[str, ...]]] = {
    # a mark that a break does not count, under a heading that is not read
    "rejected VOID": (lambda r: add(r, "rejected", "VOID"), ("REFUSED", "row 3", 'Rename it to "void"')),
    "status void": (lambda r: add(r, "status", "void", otherwise="ok"), ("REFUSED", "row 3", '"void" under "status"')),
    "remarks rejected": (lambda r: add(r, "remarks", "Rejected"), ("REFUSED", "row 3", '"Rejected" under "remarks"')),
    "excluded x": (lambda r: add(r, "excluded", "x"), ("REFUSED", "row 3", 'Rename it to "void"')),
    "valid no": (lambda r: add(r, "valid", "no", otherwise="yes"), ("REFUSED", "row 3", '"no" under "valid"')),
    "use 0": (lambda r: add(r, "use", 0, otherwise=1), ("REFUSED", "row 3", '"0" under "use"')),
    "outlier 1": (lambda r: add(r, "outlier", 1, otherwise=0), ("REFUSED", "row 3", '"1" under "outlier"')),
    "discarded yes": (lambda r: add(r, "Discarded", "yes", otherwise="no"), ("REFUSED", "row 3")),
    "comment damaged": (lambda r: add(r, "comment", "damaged"), ("REFUSED", "row 3", '"damaged" under "comment"')),
    "a column nobody reads": (lambda r: add(r, "operator", "NN"), ("CAUTION", '"operator"', "not read")),
    "void with a number": (lambda r: add(r, "void", "5"), ("REFUSED", "row 3", "decimal comma has parted")),
    "void with one": (lambda r: add(r, "void", "1"), ("REFUSED", "row 3", "write why")),
    # batches
    "a space in a name": (lambda r: put(r, "batch", "S 1", batch="S1", age_h=24), ("REFUSED", "S 1", "one name")),
    "a capital in a name": (lambda r: put(r, "batch", "s2", batch="S2", age_h=48), ("REFUSED", '"s2" and "S2"')),
    "another batch's copy": (
        lambda r: again(r, "S1", "X9"),
        ("REFUSED", "row 50", '"X9" (rows 50, ', 'those of batch "S1" (rows 2, ', "remove one"),
    ),
    "a copy with three breaks taken out": (
        lambda r: (again(r, "S1", "X9"), r.__delitem__(slice(51, 54))),
        ("REFUSED", "row 50", 'All 9 breaks of batch "X9"', 'batch "S1"'),
    ),
    "a copy with breaks added": (
        lambda r: (again(r, "S1", "X9"), r.append(["X9", "M", "standard", 168, 35.5])),
        ("REFUSED", "row 2,", 'All 12 breaks of batch "S1"', 'those of batch "X9" (rows 50, '),
    ),
    "a copy with a space": (lambda r: again(r, "S1", "S 1"), ("REFUSED", '"S 1" and "S1"', "spaces or capitals")),
    "no batch": (lambda r: put(r, "batch", "", batch="S2", age_h=48), ("REFUSED", "row 20", "Name the batch")),
    "another mix pooled": (lambda r: put(r, "mix", "N", batch="S4"), ("CAUTION", "2 mixes", "hold_out")),
    # units of strength
    "one batch in ksi": (lambda r: scale(r, 1 / 6.895, batch="S3"), ("REFUSED", "row 26", "0.134 times", "6.895")),
    "one batch in psi": (lambda r: scale(r, 145.04, batch="S3"), ("REFUSED", "row 26", "stronger than any concrete")),
    "one batch in kPa": (lambda r: scale(r, 1000, batch="S3"), ("REFUSED", "row 26", "stronger than any concrete")),
    "one batch in kgf/cm2": (lambda r: scale(r, 8.0, batch="S3"), ("REFUSED", "row 26", "kgf/cm2", "divide")),
    "all in ksi": (lambda r: [scale(r, 1 / 6.895, batch=b) for b in LEVELS], ("CAUTION", "ksi", "strength_ksi")),
    "all in kPa": (lambda r: [scale(r, 1000, batch=b) for b in LEVELS], ("REFUSED", "row 2", "Correct the unit")),
    "all in kgf/cm2": (lambda r: [scale(r, 7.0, batch=b) for b in LEVELS], ("CAUTION", "row 25", "kgf/cm2")),
    "one cell with a slipped point": (lambda r: scale(r, 10, batch="S2", age_h=12), ("CAUTION", "rows 16, 17")),
    "one cell a tenth": (lambda r: scale(r, 0.1, batch="S2", age_h=168), ("CAUTION", "rows 22, 23", "decimal point")),
    "one specimen with a slipped point": (lambda r: r[5].__setitem__(4, 214.0), ("CAUTION", "range", "rows 6, 7")),
    "a load as a strength": (lambda r: r[5].__setitem__(4, 371.0), ("CAUTION", "range", "rows 6, 7")),
    "no strength": (lambda r: r[5].__setitem__(4, ""), ("REFUSED", "row 6", "empty")),
    "a strength of nought": (lambda r: r[5].__setitem__(4, 0), ("REFUSED", "row 6", "above 0")),
    "a letter for a nought": (lambda r: r[5].__setitem__(4, "2O.4"), ("REFUSED", "row 6", '"2O.4"')),
    "a range": (lambda r: r[5].__setitem__(4, "20-21"), ("REFUSED", "row 6", '"20-21"')),
    "a strength with its unit": (lambda r: r[5].__setitem__(4, "20.5 MPa"), ("REFUSED", "row 6", '"20.5 MPa"')),
    "less than": (lambda r: r[5].__setitem__(4, "<3"), ("REFUSED", "row 6", '"<3"')),
    # ages
    "28 d as 28 h": (lambda r: put(r, "age_h", 28, age_h=672), ("REFUSED", "row 12", "Then write 672 h")),
    "7 d as 7 h": (lambda r: put(r, "age_h", 7, age_h=168), ("REFUSED", "row 10", "Are these 7 d? Then write 168 h")),
    "28 d a sixth below 7 d": (
        lambda r: scale(r, 0.68, batch="S2", age_h=672),
        ("CAUTION", "falls with age", "40.3 MPa at 168 h (rows 22, 23)", "33.86 MPa at 672 h (rows 24, 25)", "void"),
    ),
    "28 d below 7 d in two batches": (
        lambda r: [scale(r, 0.68, batch=b, age_h=672) for b in ("S2", "S4")],
        ("CAUTION", "rows 24, 25", "rows 48, 49"),
    ),
    "a quarter too strong": (
        lambda r: scale(r, 1.25 / 0.94, batch="S3"),
        ("CAUTION", '"S3" (from row 26', "stronger", "cube", "else leave it"),
    ),
    "28 d as 28 h in one batch": (lambda r: put(r, "age_h", 28, age_h=672, batch="S2"), ("REFUSED", "row 24", "28 d")),
    "all in days": (
        lambda r: [put(r, "age_h", day, age_h=hour) for hour, day in DAYS.items()],
        ("REFUSED", "customary ages in days"),
    ),
    "two ages exchanged": (
        lambda r: [put(r, "age_h", -1, batch="S1", age_h=12), put(r, "age_h", 12, batch="S1", age_h=168),
                   put(r, "age_h", 168, batch="S1", age_h=-1)],
        ("CAUTION", "strength falls with age", "rows"),
    ),
    "an age of nought": (lambda r: put(r, "age_h", 0, batch="S1", age_h=6), ("REFUSED", "row 2", "above 0")),
    "an age with its unit": (lambda r: put(r, "age_h", "6 h", batch="S1", age_h=6), ("REFUSED", "row 2", '"6 h"')),
    "an age beyond all": (lambda r: put(r, "age_h", 1e13, batch="S1", age_h=6), ("REFUSED", "row 2", "Correct it")),
    # curing
    "a curing nobody knows": (lambda r: put(r, "curing", "moist", age_h=6), ("REFUSED", "row 2", "7 more: rows 3, 14")),
    "no curing column": (lambda r: [row.pop(2) for row in r], ("CAUTION", "no curing column")),
    "no mix column": (lambda r: [row.pop(1) for row in r], ("CAUTION", "no mix column")),
}  # fmt: skip


@pytest.mark.parametrize("name", BREAKS)
def test_a_wrong_table_of_breaks_is_not_taken_in_silence(tmp_path: Path, name: str) -> None:
    change, expected = BREAKS[name]
    said = told(write_study(tmp_path, breaks=changed(change)))
    line = next((line for line in said.splitlines() if all(part in line for part in expected)), None)
    assert line is not None, said or "nothing was said"
    assert line.rstrip().endswith((".", ".)"))


def test_the_right_table_is_taken_in_silence(tmp_path: Path) -> None:
    assert told(write_study(tmp_path, breaks=study())) == ""
    (tmp_path / "with").mkdir()
    plan = plan_text(prior=CURED)
    assert told(write_study(tmp_path / "with", breaks=study(), temperatures=temperatures(), plan=plan)) == ""


TEXTS = {
    "a decimal comma at the end of a row": ("S1,M,standard,6,8,1,\n", ("REFUSED", "7 cells but there are 6 headings")),
    "a decimal comma before a reason": ("S1,M,standard,6,8,1\n", ("REFUSED", "decimal comma has parted a cell")),
    "a decimal comma too many": ("S1,M,standard,6,8,1,cap broke\n", ("REFUSED", "7 cells", "semicolons")),
    "a row cut short": ("S1,M,standard,6\n", ("REFUSED", "empty")),
    "an open quote": ('S1,M,"standard,6,8.1,\n', ("REFUSED", "row 50", "is not known")),
}


@pytest.mark.parametrize("name", TEXTS)
def test_a_row_that_is_shifted_is_refused(tmp_path: Path, name: str) -> None:
    row, expected = TEXTS[name]
    rows = study()
    rows[0].append("void")
    body = "\n".join(",".join(map(str, [*line, *([""] * (6 - len(line)))])) for line in rows)
    said = told(write_study(tmp_path, breaks=(body + "\n" + row).encode()))
    assert all(part in said for part in expected), said or "nothing was said"


READINGS: dict[str, tuple[Rows, tuple[str, ...]]] = {
    "minutes as hours": (temperatures(times=60.0), ("REFUSED", "60 times its last break", "divide the times by 60")),
    "seconds as hours": (temperatures(times=3600.0), ("CAUTION", "3600 times its last break")),
    "days as hours": (temperatures(times=1 / 24), ("CAUTION", "continued at the standard curing temperature")),
    "degrees F as C": (temperatures(level_c=68.0), ("REFUSED", "read as degrees F")),
    "a record a day short": (temperatures(last_h=640.0), ("CAUTION", "continued")),
}


@pytest.mark.parametrize("name", READINGS)
def test_a_wrong_table_of_temperatures_is_not_taken_in_silence(tmp_path: Path, name: str) -> None:
    rows, expected = READINGS[name]
    said = told(write_study(tmp_path, breaks=study(), temperatures=rows, plan=plan_text(prior=CURED)))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


def site(end_h: float) -> tuple[Rows, Rows]:
    """Companions on site at 12 h, with a record every minute that ends a little before."""
    breaks = [*study(), ["S1", "M", "site", 12, 11.0], ["S1", "M", "site", 12, 11.4]]
    n_minutes = round(60 * end_h)
    readings: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    return breaks, readings + [["S1", "site", n / 60, 15 + 0.01 * (n % 7)] for n in range(0, n_minutes + 1)]


@pytest.mark.parametrize(
    ("end_h", "expected"),
    [
        (12.0, ()),
        (11.65, ("CAUTION", "21 minutes before the break at 12 h (row 50)", "up to 30 minutes")),
        (11.4, ("REFUSED", "row 50", "ends at 11.4 h")),
    ],
)
def test_a_log_that_ends_a_little_early_is_carried_on_aloud(
    tmp_path: Path, end_h: float, expected: tuple[str, ...]
) -> None:
    breaks, readings = site(end_h)
    said = told(write_study(tmp_path, breaks=breaks, temperatures=readings, plan=plan_text(prior=CURED)))
    assert all(part in said for part in expected), said or "nothing was said"
    assert bool(said) == bool(expected)


PLANS: dict[str, tuple[dict[str, str], tuple[str, ...]]] = {
    "68 for 68 F": ({"prior": 'breaks = "breaks.csv"\nstandard_curing_c = 68'}, ('"68 F"', '"68 C" where it is meant')),
    "site in F": ({"site": "mean_concrete_temperature_c = [54, 95]"}, ('"54 F"', "hot for unheated concrete")),
    "Q in kJ/mol": ({"maturity": "equivalent_age_q_k = [33.5, 41.5]"}, ("kJ/mol", "4029, 4991")),
    "Q in J/mol": ({"maturity": "equivalent_age_q_k = [41500]"}, ("J/mol", "4991")),
    "Q of nothing": ({"maturity": "equivalent_age_q_k = [5]"}, ("in kelvin, 500 to 20000",)),
    "reference in F": ({"maturity": "reference_c = 68"}, ("-20 and 45 C", "degrees C")),
    "tolerance of a tenth of a per cent": ({"target": PLAN["target"].replace("10 %", "0.009 %")}, ("0.01 %",)),
    "assurance without per cent": ({"target": PLAN["target"] + "\nassurance = 90"}, ("below 100 %",)),
    "assurance of a hundredth": ({"target": PLAN["target"] + '\nassurance = "0.9 %"'}, ("from 50 % to 99.9 %",)),
    "a file elsewhere": ({"prior": 'breaks = "../breaks.csv"'}, ("--allow-outside",)),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANS)
def test_a_wrong_plan_is_refused_with_the_edit(tmp_path: Path, name: str) -> None:
    tables, expected = PLANS[name]
    said = told(write_study(tmp_path, breaks=study(), plan=plan_text(**tables)))
    assert said.startswith("REFUSED plan.toml") or name == "a file elsewhere"
    assert all(part in said for part in expected), said


def test_a_hot_room_that_is_meant_is_read(tmp_path: Path) -> None:
    plan = plan_text(prior='breaks = "breaks.csv"\nstandard_curing_c = "68 C"')
    assert told(write_study(tmp_path, breaks=study(), plan=plan)) == ""


def test_formulas_that_were_never_saved_are_told(tmp_path: Path) -> None:
    rows = study()
    for row in rows[1:]:
        row[4] = f"={row[4]}*1"
    said = told(write_study(tmp_path, breaks=xlsx_bytes(rows), break_file="breaks.xlsx"))
    assert "never calculated" in said
    assert "save the file once in a spreadsheet program" in said


def test_the_same_batch_in_two_files_is_told(tmp_path: Path) -> None:
    rows = study()
    names = {"S 1": ("REFUSED", '"S 1" and "S1"'), "X9": ("REFUSED", '"X9" (rows 2, ', 'those of batch "S1"')}
    for name, expected in names.items():
        copy = [HEADINGS, *([name, *row[1:]] for row in where(rows, batch="S1"))]
        (tmp_path / "more.csv").write_bytes(csv_bytes(copy))
        plan = plan_text(prior='breaks = ["breaks.csv", "more.csv"]')
        said = told(write_study(tmp_path, breaks=rows, plan=plan))
        assert all(part in said for part in expected), said


def test_a_copy_in_another_unit_of_strength_is_told(tmp_path: Path) -> None:
    rows = study()
    copy = [[*HEADINGS[:4], "strength_psi"]]
    copy += [["X9", *row[1:4], round(145.0377 * float(str(row[4])))] for row in reversed(where(rows, batch="S1"))]
    (tmp_path / "more.csv").write_bytes(csv_bytes(copy))
    plan = plan_text(prior='breaks = ["breaks.csv", "more.csv"]')
    said = told(write_study(tmp_path, breaks=rows, plan=plan))
    assert 'All 12 breaks of batch "X9"' in said
    assert 'those of batch "S1"' in said


def test_a_copy_under_another_mix_is_told(tmp_path: Path) -> None:
    rows = study()
    rows += [["X9", "N", *row[2:]] for row in where(rows, batch="S2")]
    plan = plan_text(prior='breaks = "breaks.csv"\nstandard_curing_c = 20\nhold_out = "mix"')
    assert 'those of batch "S2"' in told(write_study(tmp_path, breaks=rows, plan=plan))


def test_batches_that_are_much_alike_are_read(tmp_path: Path) -> None:
    rows = study()
    again(rows, "S1", "X9")
    rows[-1][4] = float(str(rows[-1][4])) + 0.1  # one break of twelve, by a tenth
    assert told(write_study(tmp_path, breaks=rows)) == ""
    few = study()
    few += [["X9", *row[1:]] for row in where(few, batch="S1", age_h=24) + where(few, batch="S1", age_h=48)][:3]
    assert told(write_study(tmp_path, breaks=few)) == ""


def test_two_thirds_of_another_batch_are_no_copy(tmp_path: Path) -> None:
    rows = study()
    rows += [["X9", *row[1:]] for row in where(rows, batch="S1")[:8]]
    assert told(write_study(tmp_path, breaks=rows)) == ""


def test_no_rounding_to_whole_psi_hides_a_copy() -> None:
    rng = np.random.default_rng(3)  # 200 batches of four breaks, each with its copy written in psi
    for number in range(200):
        mpa = np.round(rng.uniform(7.0, 60.0, 4), 1)
        found = np.round(145.0377 * mpa) / 145.0377
        breaks = [
            Break(batch=name, mix="M", curing="standard", age_h=24.0, tested_h=24.0, strength_mpa=float(value), row=row)
            for name, values in (("A", mpa), ("B", found[::-1]))
            for row, value in enumerate(values, start=2)
        ]
        findings = Findings()
        report_copies("breaks.csv", breaks, findings)
        assert len(findings.problems) == 1, (number, mpa)
