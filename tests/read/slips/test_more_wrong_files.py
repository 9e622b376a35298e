"""Seventy more files with one slip in them: none is taken in silence, each is told with where and what to do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.read.invented_study import PLAN, Rows, plan_text, write_study
from tests.read.slips.test_wrong_files import CURED, MEANS, add, put, scale, study, temperatures, told, where

Expected = tuple[str, ...]


def cell(value: object, *, column: int = 4, row: int = 5) -> Callable[[Rows], object]:
    return lambda rows: rows[row].__setitem__(column, value)


def head(rows: Rows, column: int, name: str) -> None:
    rows[0][column] = name


def turned(rows: Rows, batch: str, *, by: int) -> None:
    """The strengths of a batch pushed down the column."""
    own = where(rows, batch=batch)
    strengths = [row[4] for row in own]
    for row, mpa in zip(own, strengths[by:] + strengths[:by], strict=True):
        row[4] = mpa


def one_label_twice(rows: Rows) -> None:
    rows[0].append("specimen")
    for number, row in enumerate(rows[1:]):
        row.append(f"{row[0]}-{number}")
    rows[3][5] = rows[2][5]


def named(rows: Rows, first: str, second: str) -> None:
    """The breaks of S1 at one day under a second spelling of its name."""
    put(rows, "batch", first, batch="S1")
    put(rows, "batch", second, batch=first, age_h=24)


BREAKS: dict[str, tuple[Callable[[Rows], object], Expected]] = {
    # names
    "a leading nought": (lambda r: named(r, "1", "01"), ("REFUSED", "row 6", '"01" and "1"', "one batch")),
    "a letter of another alphabet": (lambda r: named(r, "S1", "\u04051"), ("REFUSED", "row 6", "look alike")),
    "a hyphen": (lambda r: named(r, "S1", "S-1"), ("REFUSED", "row 6", '"S-1" and "S1"')),
    "an underscore": (lambda r: named(r, "S1", "S_1"), ("REFUSED", "row 6", '"S_1" and "S1"')),
    "a full stop": (lambda r: named(r, "S1", "S.1"), ("REFUSED", "row 6", '"S.1" and "S1"')),
    "O for nought in a name": (lambda r: named(r, "S10", "S1O"), ("REFUSED", "row 6", '"S1O" and "S10"')),
    "a full-width figure": (lambda r: named(r, "S1", "S\uff11"), ("REFUSED", "row 6", "look alike")),
    "a batch of means": (
        lambda r: r.extend([["mean", "M", "standard", age, mpa] for age, mpa in MEANS.items()]),
        ("REFUSED", "row 50", '"mean" reads like an average'),
    ),
    "a batch of averages": (lambda r: put(r, "batch", "Average", batch="S4"), ("REFUSED", '"Average" reads like')),
    "a row of the mean": (lambda r: r.append(["mean", "", "", "", 23.4]), ("REFUSED", "row 50", "empty")),
    "batch and mix exchanged": (lambda r: (head(r, 0, "mix"), head(r, 1, "batch")), ("CAUTION", "4 mixes")),
    "a mix in small letters": (lambda r: put(r, "mix", "m", batch="S2"), ("CAUTION", "2 mixes")),
    "a batch in two mixes": (lambda r: put(r, "mix", "N", batch="S1", age_h=24), ("CAUTION", "2 mixes")),
    # headings
    "strength misspelt": (lambda r: head(r, 4, "strenght_mpa"), ("REFUSED", 'nearest known is "strength_mpa"')),
    "age without its column": (lambda r: [row.pop(3) for row in r], ("REFUSED", "no age column")),
    "two columns of age": (lambda r: add(r, "age_d", 1, otherwise=1), ("REFUSED", "2 age columns", "Keep one")),
    "two columns of strength": (lambda r: add(r, "strength_psi", 1, otherwise=1), ("REFUSED", "2 strength columns")),
    "one heading twice": (lambda r: add(r, "strength_mpa", 1, otherwise=1), ("REFUSED", "both mean strength_mpa")),
    "headings again half way": (
        lambda r: r.insert(10, list(r[0])),
        ("REFUSED", "row 11", '"age_h", which is no number'),
    ),
    "a row of units": (
        lambda r: r.insert(1, ["", "", "", "h", "MPa"]),
        ("REFUSED", "row 2", '"MPa", which is no number'),
    ),
    "headings alone": (lambda r: r.__delitem__(slice(1, None)), ("REFUSED", "no rows below them")),
    "MPa under psi": (lambda r: head(r, 4, "strength_psi"), ("REFUSED", "too weak", "unit in the heading")),
    "MPa under ksi": (lambda r: head(r, 4, "strength_ksi"), ("CAUTION", "350 MPa", "few concretes")),
    # cells
    "not a number": (cell("NaN"), ("REFUSED", "row 6", "finite number")),
    "not available": (cell("n/a"), ("REFUSED", "row 6", '"n/a"')),
    "a dash": (cell("-"), ("REFUSED", "row 6", '"-"')),
    "an error of the spreadsheet": (cell("#DIV/0!"), ("REFUSED", "row 6", '"#DIV/0!"')),
    "a footnote": (cell("20.4*"), ("REFUSED", "row 6", '"20.4*"')),
    "a percentage": (cell("95 %"), ("REFUSED", "row 6", '"95 %"')),
    "without end": (cell("inf"), ("REFUSED", "row 6", "finite number")),
    "a sign too many": (cell(-20.4), ("REFUSED", "row 6", "above 0")),
    "two decimal commas": (cell("20,4,1"), ("REFUSED", "row 6", '"20,4,1"')),
    "an apostrophe": (cell("'20.4"), ("REFUSED", "row 6", "no number")),
    "a blank in a number": (cell("2 0.4"), ("REFUSED", "row 6", '"2 0.4"')),
    "stronger than any concrete": (cell(450), ("REFUSED", "row 6", "stronger than any concrete")),
    "two full stops in an age": (cell("1.5.2", column=3), ("REFUSED", "row 6", '"1.5.2"')),
    "an age that became a date": (cell("12-Jan", column=3), ("REFUSED", "row 6", '"12-Jan"')),
    "a year for an age": (cell(2027, column=3), ("CAUTION", "2027 h", "rows 6")),
    "an age below nought": (lambda r: put(r, "age_h", -6, batch="S1", age_h=6), ("REFUSED", "row 2", "above 0")),
    "curing left empty": (lambda r: put(r, "curing", "", batch="S2", age_h=24), ("REFUSED", "row 18", "Give one of")),
    "one label twice": (one_label_twice, ("REFUSED", "row 4", "already broken in row 3")),
    # strengths
    "strengths pushed down": (lambda r: turned(r, "S2", by=2), ("CAUTION", "falls with age", "S2 standard")),
    "strengths pushed up": (lambda r: turned(r, "S2", by=-2), ("CAUTION", "falls with age", "S2 standard")),
    "the area of 150 for 100 mm": (
        lambda r: scale(r, 0.444, batch="S3"),
        ("CAUTION", '"S3" (from row 26)', "0.41 times"),
    ),
    "the area of 100 for 150 mm": (
        lambda r: scale(r, 2.25, batch="S3"),
        ("CAUTION", '"S3" (from row 26)', "2.1 times"),
    ),
    "half the strength": (lambda r: scale(r, 0.5, batch="S3"), ("CAUTION", "0.46 times", "another mix")),
    "a radius for a diameter": (lambda r: scale(r, 4, batch="S3"), ("CAUTION", "3.7 times", "a radius for a diameter")),
    "a diameter for a radius": (lambda r: scale(r, 0.25, batch="S3"), ("REFUSED", "row 26", "0.23 times")),
    "loads as strengths": (lambda r: scale(r, 17.67, batch="S3"), ("REFUSED", "row 32", "stronger than any concrete")),
    "half at the last age": (
        lambda r: scale(r, 0.5, batch="S2", age_h=672),
        ("CAUTION", "falls with age", "rows 24, 25"),
    ),
    "thrice at the first age": (
        lambda r: scale(r, 3, batch="S2", age_h=6),
        ("CAUTION", "falls with age", "rows 14, 15"),
    ),
    # ages
    "all ages in minutes": (
        lambda r: [row.__setitem__(3, 60 * row[3]) for row in r[1:]],
        ("CAUTION", "40320 h old", "row 12", "minutes", "28 d"),
    ),
    "one batch in minutes": (
        lambda r: [row.__setitem__(3, 60 * row[3]) for row in where(r, batch="S2")],
        ("CAUTION", 'batch "S2" alone has 360 h (row 14) for 6 h', "minutes"),
    ),
    "28 d times 24 twice": (
        lambda r: put(r, "age_h", 16128, batch="S2", age_h=672),
        ("CAUTION", "16128 h (row 24) for 28 d", "multiplied by 24"),
    ),
    # geometry
    "no shape": (lambda r: add(r, "geometry", "100x200", otherwise="100x200"), ("CAUTION", '"100x200" cannot be read')),
    "cm for mm": (
        lambda r: add(r, "geometry", "cylinder 100x200 cm", otherwise="cylinder 100x200 cm"),
        ("REFUSED", "row 2", "25 to 600 mm", "unit"),
    ),
    "height before diameter": (
        lambda r: add(r, "geometry", "cylinder 200x100 mm", otherwise="cylinder 200x100 mm"),
        ("REFUSED", "row 2", "lower than it is wide"),
    ),
    "one cube among cylinders": (
        lambda r: add(r, "geometry", "cube 100 mm", otherwise="cylinder 100x200 mm"),
        ("REFUSED", "row 3", "2 geometries"),
    ),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_wrong_table_of_breaks_is_told(tmp_path: Path, name: str) -> None:
    change, expected = BREAKS[name]
    rows = study()
    change(rows)
    said = told(write_study(tmp_path, breaks=rows))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


def record(change: Callable[[Rows], object]) -> Rows:
    rows = temperatures()
    change(rows)
    return rows


def each(rows: Rows, column: int, turn: Callable[[float], float], *, batch: str = "S2") -> None:
    for row in rows:
        if row[0] == batch:
            row[column] = turn(row[column])


READINGS: dict[str, tuple[Callable[[Rows], object], Expected]] = {
    "kelvin": (lambda r: [row.__setitem__(3, row[3] + 273.15) for row in r[1:]], ("REFUSED", "another unit")),
    "one batch in F": (lambda r: each(r, 3, lambda c: 1.8 * c + 32), ("REFUSED", '"S2"', "degrees F")),
    "a point too far right": (lambda r: each(r, 3, lambda c: 10 * c), ("REFUSED", '"S2"', "another unit")),
    "a batch nobody broke": (
        lambda r: [row.__setitem__(0, "Z9") for row in r if row[0] == "S2"],
        ("CAUTION", "Z9 standard"),
    ),
    "another curing": (lambda r: [row.__setitem__(1, "site") for row in r if row[0] == "S2"], ("CAUTION", "S2 site")),
    "times out of order": (lambda r: r.__setitem__(slice(10, 12), r[11:9:-1]), ("REFUSED", "row 12", "goes backwards")),
    "two readings at once": (
        lambda r: r.insert(10, [*r[10][:3], 35.0]),
        ("CAUTION", "two readings at 18 h", "35 C (row 11)", "sensor column"),
    ),
    "six days missing": (lambda r: r.__delitem__(slice(40, 110)), ("CAUTION", "gaps over 6 h", "row 41")),
    "a spike of a bad contact": (lambda r: r[20].__setitem__(3, 85.0), ("CAUTION", "row 21")),
    "a sensor pulled out": (lambda r: r[20].__setitem__(3, -127), ("REFUSED", "row 21", "-127 C")),
    "a word for a reading": (lambda r: r[20].__setitem__(3, "ERR"), ("REFUSED", "row 21", '"ERR"')),
    "a reading left empty": (lambda r: r[20].__setitem__(3, ""), ("REFUSED", "row 21", "empty")),
    "started eight hours late": (lambda r: r.__delitem__(slice(1, 5)), ("CAUTION", "begins 8 h after age zero")),
    "half a day off": (lambda r: each(r, 2, lambda h: h + 12), ("CAUTION", '"S2"', "begins 12 h after age zero")),
    "before age zero": (lambda r: r[1].__setitem__(2, -5), ("CAUTION", "before age zero")),
    "a heading without its unit": (lambda r: r[0].__setitem__(3, "temp"), ("REFUSED", 'no column "temperature_c"')),
    "no readings": (lambda r: r.__delitem__(slice(1, None)), ("REFUSED", "no rows below them")),
}


@pytest.mark.parametrize("name", READINGS)
def test_a_wrong_table_of_temperatures_is_told(tmp_path: Path, name: str) -> None:
    change, expected = READINGS[name]
    path = write_study(tmp_path, breaks=study(), temperatures=record(change), plan=plan_text(prior=CURED))
    said = told(path)
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


def test_a_site_record_under_two_batches_is_told_and_one_curing_room_is_not(tmp_path: Path) -> None:
    breaks = [*study(), *([batch, "M", "site", 12, 11.0 + n] for n, batch in enumerate(("S1", "S2")))]
    rows: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    rows += [[b, "site", n, 15 + 0.1 * (n % 7)] for b in ("S1", "S2") for n in range(14)]
    said = told(write_study(tmp_path, breaks=breaks, temperatures=rows, plan=plan_text(prior=CURED)))
    assert 'the records of batch "S1", site; batch "S2", site are equal to the last digit' in said
    rows[-1][3] += 0.1
    assert "equal to the last" not in told(
        write_study(tmp_path, breaks=breaks, temperatures=rows, plan=plan_text(prior=CURED))
    )


T, C, P = PLAN["target"], PLAN["choices"], 'breaks = "breaks.csv"'
EUR = 'currency = "EUR"'
PLANS: dict[str, tuple[dict[str, str], Expected]] = {
    "a tolerance of 90 %": ({"target": T.replace("10 %", "90 %")}, ("CAUTION", "assurance meant", "exchange")),
    "a tolerance without per cent": ({"target": T.replace('"10 %"', "10")}, ("REFUSED", '"10 %" or 0.10')),
    "an age without a unit": ({"choices": C.replace('"12 h"', "12")}, ("REFUSED", '"12 h" or "12 d"')),
    "fewest and most exchanged": ({"choices": C.replace("[2, 4]", "[4, 2]")}, ("REFUSED", "[4, 2]", "like [2, 4]")),
    "final set in minutes": ({"mix": "final_set_h = 90"}, ("CAUTION", "minutes", "1.5")),
    "least strength in psi": ({"choices": C + "\nleast_strength_mpa = 500"}, ("REFUSED", "0 to 400 MPa")),
    "scatter of 3": ({"prior": P + "\nwithin_test_cv = 3"}, ("REFUSED", "below 100 %")),
    "scatter of 30 %": ({"prior": P + '\nwithin_test_cv = "30 %"'}, ("CAUTION", "30.00 %", "decimal point")),
    "scatter of 0.03 %": ({"prior": P + '\nwithin_test_cv = "0.03 %"'}, ("CAUTION", "0.03 %", "decimal point")),
    "batches 0.07 % apart": ({"prior": P + '\nbetween_batch_cv = "0.07 %"'}, ("CAUTION", "0.07 %", "decimal point")),
    "batches 70 % apart": ({"prior": P + '\nbetween_batch_cv = "70 %"'}, ("CAUTION", "70.00 %", "decimal point")),
    "hours without minutes": ({"laboratory": 'open = "7-17"'}, ("REFUSED", '"07:00-17:00"')),
    "five in the morning for five": ({"laboratory": 'open = "07:00-05:00"'}, ("CAUTION", "22 hours", '"17:00"')),
    "forms for 16 days": ({"laboratory": 'form_removal = "16 d"'}, ("CAUTION", '"16 h"')),
    "machine in newtons": ({"laboratory": "machine_kn = [20000, 3000000]"}, ("REFUSED", "in kN", "[20, 3000]")),
    "machine turned round": ({"laboratory": "machine_kn = [3000, 20]"}, ("REFUSED", "least and the most")),
    "a machine of one load": ({"laboratory": "machine_kn = 3000"}, ("REFUSED", "[20, 3000]")),
    "a zone nobody knows": ({"laboratory": 'time_zone = "CET+1"'}, ("REFUSED", "no known time zone")),
    "a key misspelt": ({"laboratory": 'opens = "07:00-17:00"'}, ("REFUSED", 'nearest known is "open"')),
    "spares without per cent": ({"programme": "spares = 10"}, ("CAUTION", '"10 %"')),
    "a price below nought": ({"costs": EUR + "\nspecimen = -3"}, ("REFUSED", "not be negative")),
    "visits turned round": (
        {"costs": EUR + "\nvisit = 240\nvisit_outside_hours = 90"},
        ("CAUTION", "Exchange the two"),
    ),
    "castings turned round": (
        {"costs": EUR + "\ncasting = 400\ncasting_outside_hours = 150"},
        ("CAUTION", "casting_outside_hours: 150 EUR", "(400)"),
    ),
    "units in small letters": ({"output": 'units = "us"'}, ("REFUSED", '"SI" or "US"')),
    "site turned round": ({"site": "mean_concrete_temperature_c = [35, 12]"}, ("REFUSED", "like [12, 35]")),
    "reference in kelvin": ({"maturity": "reference_c = 293"}, ("REFUSED", "degrees C")),
    "datum at the reference": ({"maturity": "datum_c = [20]"}, ("REFUSED", "below the reference")),
    "a geometry nobody broke": ({"prior": P + '\ngeometry = "cube 150 mm"'}, ("REFUSED", "There are: not stated")),
    "weights for another number": ({"target": T + "\nweights = [1, 2]"}, ("REFUSED", "2 weights for 1 target")),
    "a schedule without x": ({"compare": 'schedules = ["1 d 3"]'}, ("REFUSED", "like")),
}


@pytest.mark.parametrize("name", PLANS)
def test_a_wrong_plan_is_told(tmp_path: Path, name: str) -> None:
    tables, expected = PLANS[name]
    said = told(write_study(tmp_path, breaks=study(), plan=plan_text(**tables)))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


@pytest.mark.parametrize(
    "tables",
    [
        {"target": T.replace("10 %", "30 %")},
        {"mix": "final_set_h = 24", "target": T.replace("12 h", "1 d")},
        {"prior": P + '\nwithin_test_cv = "15 %"'},
        {"prior": P + '\nwithin_test_cv = "0.5 %"\nbetween_batch_cv = "30 %"'},
        {"prior": P + '\nbetween_batch_cv = "1 %"'},
        {"laboratory": 'open = "06:00-22:00"\nform_removal = "7 d"'},
        {"laboratory": 'open = "20:00-06:00"'},
        {"programme": "spares = 1"},
        {"costs": EUR + "\nvisit = 90\nvisit_outside_hours = 90\ncasting = 50"},
        {"costs": EUR + "\nvisit = 90"},
    ],
)
def test_what_may_well_be_meant_is_taken_in_silence(tmp_path: Path, tables: dict[str, str]) -> None:
    assert told(write_study(tmp_path, breaks=study(), plan=plan_text(**tables))) == ""


@pytest.mark.parametrize(
    ("first", "second"), [("1-11", "11-1"), ("A1", "B1"), ("S1", "S10"), ("S1.5", "S15"), ("P2", "P21")]
)
def test_batches_that_are_told_apart_stay_two(tmp_path: Path, first: str, second: str) -> None:
    rows = study()
    put(rows, "batch", first, batch="S1")
    put(rows, "batch", second, batch="S2")
    assert told(write_study(tmp_path, breaks=rows)) == ""


def test_batches_a_sixth_stronger_are_one_mix(tmp_path: Path) -> None:
    rows = study()
    scale(rows, 1.26, batch="S3")  # 1.16 of the others' median: 1.18 at most
    assert told(write_study(tmp_path, breaks=rows)) == ""
