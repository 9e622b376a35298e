"""Curve sheet, site checks, pour and clause, table by table against their JSON documents."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from planner.after_casting.site_checking import check_pours
from planner.issued_curve.calibration.early_correction import PlannedEarly, early_correction
from planner.issued_curve.calibration.issue import Issue
from planner.report.documents.clause_file import clause_docx
from planner.report.documents.pages.after_casting_pages import render_pour, render_site_checks
from planner.report.documents.pages.clause_page import render_clause
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.values.curve_document import curve_document
from planner.report.documents.values.minimum_document import clause_document
from planner.report.documents.values.pour_document import pour_document
from planner.report.documents.values.site_checks_document import site_checks_document
from planner.report.text.curve_status_words import SHORT_GROUNDS
from planner.terms.labels import age_label
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.invented_curves import issued_curve, pour_model
from tests.issued_curve.trial_files import issued, runway_plan
from tests.report.invented_answers import invented_clause
from tests.report.read_back import Figure, ReadTable, assert_says, page_table, page_tables, percent, word_tables

BACK, LABORATORY = 'id="back"', 'class="laboratory"'


def mpa(value: float | None) -> Figure:
    return Figure(value, places=1)


def safe_mpa(value: float | None) -> Figure:
    return Figure(value, places=1, to="down")


def maturity(value: float | None) -> Figure:
    return Figure(value, places=None if value is None else 1 if value < 100 else 0)


def companions(item: Any) -> str:
    return age_label(item["age_h"]) + (f", {item['placement']}" if item["placement"] else "")


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


@pytest.fixture(scope="module")
def leaf(issue: Issue) -> str:
    """Front and back: what a crew holds."""
    return render_curve_sheet(issue).split(LABORATORY)[0]


@pytest.fixture(scope="module")
def below(issue: Issue) -> str:
    """The laboratory's part."""
    return render_curve_sheet(issue).split(LABORATORY)[1]


def joined(tables: list[ReadTable]) -> ReadTable:
    """Columns that stand side by side as one table."""
    assert len({table.headings for table in tables}) == 1
    return replace(tables[0], rows=tuple(row for table in tables for row in table.rows))


READ: dict[str, Callable[[Any], Any]] = {
    "strength read, MPa": lambda item: mpa(item["strength_mpa"]),
    "safe reading, MPa": lambda item: safe_mpa(item["safe_mpa"]),
}
HOURS: dict[str, Callable[[Any], Any]] = {
    "earliest, h": lambda item: mpa(item["earliest_h"]),
    "likely, h": lambda item: mpa(item["likely_h"]),
    "safe, h": lambda item: Figure(item["safe_h"], places=1, to="up"),
}


def test_readings_on_the_front_and_below(issue: Issue, leaf: str, below: str) -> None:
    document = curve_document(issue)
    front = leaf.split(BACK)[0]
    table = joined([table for table in page_tables(front) if "safe reading, MPa" in table.headings])
    abscissa = table.headings[0]
    assert abscissa == "equivalent age at 20 C, h"
    columns = {abscissa: lambda item: maturity(item["maturity"]), **READ}
    assert_says(table, document["table"], columns)
    found = [table for table in page_tables(below) if table.over == "Readings"]
    assert [len(table.headings) for table in found] == [4, 3, 5]
    targets = {
        "target, standard-cured": lambda item: age_label(item["age_h"]) + " (outside)" * (not item["is_inside"]),
        **columns,
    }
    assert_says(found[0], document["readings"], targets)
    assert_says(found[1], document["table"], columns)


def test_hours_on_the_back_and_below(issue: Issue, leaf: str, below: str) -> None:
    hours = curve_document(issue)["hours"]
    back = page_table(leaf.split(BACK)[1], "Hours at one concrete temperature")
    assert 0 < len(back.rows) <= len(hours)
    first: dict[str, Callable[[Any], Any]] = {
        "MPa": lambda item: Figure(item["strength_mpa"]),
        "C": lambda item: Figure(item["temperature_c"], places=0),
    }
    assert_says(back, hours[: len(back.rows)], {**first, **HOURS})
    names = ("strength, MPa", "concrete, C")
    in_full = page_table(below, "Readings", *names)
    assert_says(in_full, hours, {**dict(zip(names, first.values(), strict=True)), **HOURS})


def test_companions_on_the_back_and_below(issue: Issue, leaf: str, below: str) -> None:
    document = curve_document(issue)["checks"]

    def difference(item: Any) -> Figure:
        assert item["difference"] == pytest.approx(item["broken_mpa"] / item["read_mpa"] - 1)
        return percent(item["difference"])

    both: dict[str, Callable[[Any], Any]] = {
        "read, MPa": lambda item: mpa(item["read_mpa"]),
        "broken, MPa": lambda item: mpa(item["broken_mpa"]),
        "difference": difference,
    }
    back = page_table(leaf.split(BACK)[1], "Companions of the trial batch")
    assert_says(back, document[:4], {"cured on site": companions, **both})

    def judged(item: Any) -> str:
        if not item["is_judged"]:
            return "outside the breaks"
        return ("as chance explains" if item["passes"] else "BEYOND") + ", beyond tolerance" * (
            not item["is_inside_tolerance"]
        )

    assert_says(
        page_table(below, "Companions on site"),
        document,
        {
            "companions": companions,
            "n": lambda item: Figure(item["n_specimens"], places=0),
            "maturity, h": lambda item: maturity(item["maturity"]),
            **both,
            "z": lambda item: Figure(item["z"], places=2),
            "judged": judged,
        },
    )


def test_fitted_curve_beside_the_others(issue: Issue, below: str) -> None:
    document = curve_document(issue)
    (found,) = document["other_curves"]
    taken = sorted(found["curves"], key=lambda item: item["curve"] != document["curve"])

    def at(place: int) -> Callable[[Any], Any]:
        return lambda item: mpa(item["read_mpa"][place])

    ages = {f"{age_label(age)}, MPa": at(place) for place, age in enumerate(document["target_ages_h"])}
    assert_says(
        page_table(below, "Fit"),
        taken,
        {
            f"curve on {found['batch']}": lambda item: item["curve"],
            "RMS departure": lambda item: percent(item["rms_departure"]),
            **ages,
        },
    )


def test_correction_on_the_front(issue: Issue) -> None:
    """Means are rounded up and factors down: to the safe side."""
    bent = issued_curve(target_ages_h=(6.0, 24.0), pour_model=pour_model())
    found = early_correction(bent, (PlannedEarly(age_h=4.0, n_specimens=2, maturity_h=5.1),))
    assert found is not None
    asked = replace(issue, early_correction=found, has_early_breaks=True)
    document = curve_document(asked)["early_correction"]
    (early,) = document["early"]
    factors = {
        f"factor for {age_label(target['age_h'])}": [line[0] for line in target["factors"]]
        for target in document["targets"]
    }
    lines = [
        {"share": share, **{name: column[place] for name, column in factors.items()}}
        for place, share in enumerate(document["shares"])
    ]
    assert_says(
        page_table(render_curve_sheet(asked), "Early breaks of the pour"),
        lines,
        {
            "share of expected": lambda line: Figure(line["share"], places=2),
            "mean at 4 h, MPa": lambda line: Figure(line["share"] * early["expected_mpa"], places=1, to="up"),
            **{name: (lambda line, name=name: Figure(line[name], places=3, to="down")) for name in factors},
        },
    )
    assert len(factors) == 2


def test_site_checks(tmp_path: Path) -> None:
    listed = [
        rows("P1", 20.0, 0.95), rows("P2", 24.0, 0.76, required_mpa=19.5), rows("P3", 4.5, 0.5), rows("P4", 22.0, 1.04)
    ]  # fmt: skip
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, *listed))
    document = site_checks_document(answer)
    shorts = {ground.value: words for ground, words in SHORT_GROUNDS.items()}
    assert len(set(shorts.values())) == len(shorts)

    def tonight(item: Any) -> str:
        return item["tonight"] + (": " if item["grounds"] else "") + ", ".join(shorts[one] for one in item["grounds"])

    assert_says(
        page_table(render_site_checks(answer, standing=()), "Checks in order"),
        document["points"],
        {
            "pour": lambda item: item["batch"],
            "companions": lambda item: f"{item['n_specimens']} at {companions(item)}",
            "maturity, h": lambda item: maturity(item["maturity"]),
            "read, MPa": lambda item: mpa(item["read_mpa"]),
            "safe, MPa": lambda item: safe_mpa(item["safe_mpa"]),
            "broken, MPa": lambda item: mpa(item["broken_mpa"]),
            "required, MPa": lambda item: mpa(item["required_mpa"]),
            "z": lambda item: Figure(item["z"], places=2),
            "sum": lambda item: Figure(item["cusum_low"], places=1),
            "tonight": tonight,
            "lasting": lambda item: item["lasting"],
        },
    )
    assert [item["safe_mpa"] is None for item in document["points"]] == [False, False, True, False]


def test_a_pour(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(25.0))
    document = pour_document(answer)
    page = render_pour(answer, standing=())

    def interval(item: Any) -> str:
        return " to ".join(f"{value:.1f}" for value in item["interval_mpa"])

    pours: dict[str, Callable[[Any], Any]] = {
        "curve alone, MPa": lambda item: mpa(item["curve_mpa"]),
        "this pour, MPa": lambda item: mpa(item["strength_mpa"]),
    }
    safe: dict[str, Callable[[Any], Any]] = {"safe reading, MPa": lambda item: safe_mpa(item["safe_mpa"])}
    assert_says(
        page_table(page, "Pour read with curve 1"),
        document["readings"],
        {
            "read at": lambda item: (
                age_label(item["age_h"]) if item["is_target"] else f"{item['age_h']:g} h, record ends"
            ),
            "maturity, h": lambda item: maturity(item["maturity"]),
            "concrete": lambda item: Figure(item["temperature_c"], "C", 1),
            **pours,
            "90 % lie in, MPa": interval,
            **safe,
        },
    )
    assert_says(
        page_table(page, "By maturity"),
        document["table"],
        {"equivalent age at 20 C, h": lambda item: maturity(item["maturity"]), **pours, **safe},
    )
    assert_says(
        page_table(page, "Early breaks"),
        document["early"],
        {
            "age": lambda item: age_label(item["age_h"]),
            "cured": lambda item: item["curing"],
            "specimens": lambda item: Figure(item["n_specimens"], places=0),
            "maturity, h": lambda item: maturity(item["maturity"]),
            "mean, MPa": lambda item: mpa(item["mean_mpa"]),
        },
    )


@cache
def clause_tables(kind: str) -> tuple[list[ReadTable], Any]:
    clause = invented_clause()
    tables = (
        page_tables(render_clause(clause, title="Panels"))
        if kind == "page"
        else word_tables(clause_docx(clause, title="Panels"))
    )
    return tables, clause_document(clause)


def hours_of(cell: str) -> float:
    """Read ``±7 min`` or ``±20 h``."""
    number, unit = cell.removeprefix("±").split()
    return float(number) / {"min": 60.0, "h": 1.0}[unit]


@pytest.mark.parametrize("kind", ["page", "Word file"])
def test_tables_of_the_clause(kind: str) -> None:
    (ages, rationale), document = clause_tables(kind)
    deviation = "permitted deviation"
    assert_says(
        ages,
        document["ages"],
        {
            "age": lambda item: age_label(item["age_h"]),
            deviation: lambda item: next(
                row[deviation] for row in ages.rows if row["age"] == age_label(item["age_h"])
            ),
            "specimens": lambda item: Figure(item["n_specimens"], places=0),
            "times the earliest target's maturity": lambda item: Figure(float(f"{item['multiple']:.2g}")),
        },
    )  # fmt: skip
    for row, item in zip(ages.rows, document["ages"], strict=True):  # rounded down, to what a person writes
        permitted = item["permitted_deviation_h"]
        assert 0.9 * permitted <= hours_of(row[deviation]) <= permitted + 1e-9
    assert_says(
        rationale,
        [item for item in document["paragraphs"] if item["rests_on"]],
        {
            "no.": lambda item: item["number"],
            "paragraph": lambda item: item["subject"],
            "rests on": lambda item: item["rests_on"],
        },
    )
