"""Tables of an issued curve and of the ages, every cell under its own heading."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.readings import HoursRow
from planner.issued_curve.rules.acceptance import CompanionCheck
from planner.issued_curve.rules.companions import Companions
from planner.report.accounts.after_casting.curve_account import companions_table, curve_account, hours_table
from planner.report.accounts.brief_account import brief_account
from planner.report.text.blocks import Column, Paragraph, Section, Table
from planner.terms.labels import age_label
from tests.issued_curve.trial_files import issued
from tests.report.accounts.test_tables_by_heading import by_heading, number
from tests.report.invented_result import invented_recommendation

COMPANIONS = Companions(
    batch="T1", age_h=12.0, maturity_h=9.4, read_mpa=10.0, broken_mpa=9.1, n_specimens=3, placement="north"
)


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


def section(sections: tuple[Section, ...], heading: str) -> Section:
    return next(one for one in sections if one.heading.startswith(heading))


def tables(one: Section) -> list[Table]:
    return [block for block in one.blocks if isinstance(block, Table)]


def test_readings_and_the_whole_table(issue: Issue) -> None:
    headings = [part.heading for part in curve_account(issue)]
    assert headings.index("Before using it") < headings.index("Readings"), "no strength stands before its cautions"
    targets, whole, _ = tables(section(curve_account(issue), "Readings"))
    maturity = targets.columns[1].heading
    for row, reading in zip(by_heading(targets), issue.readings, strict=True):
        assert row["target, standard-cured"].startswith(age_label(reading.age_h))
        assert row["target, standard-cured"].endswith("(outside)") == (not reading.is_inside)
        assert number(row["strength read, MPa"]) == pytest.approx(reading.strength_mpa, abs=0.051)
        assert number(row["safe reading, MPa"]) == pytest.approx(reading.safe_mpa, abs=0.101)
        assert number(row[maturity]) == pytest.approx(reading.maturity_h, abs=0.51)
    for row, found in zip(by_heading(whole), issue.table, strict=True):
        assert number(row["strength read, MPa"]) == pytest.approx(found.strength_mpa, abs=0.051)
        assert number(row["safe reading, MPa"]) == pytest.approx(found.safe_mpa, abs=0.101)
        assert number(row[maturity]) == pytest.approx(found.maturity_h, abs=0.51)
    assert not whole.n_marked
    numeric = [column.heading for column in targets.columns if column.is_number]
    assert numeric == [column.heading for column in targets.columns[1:]]


def test_hours_to_a_strength() -> None:
    row = HoursRow(strength_mpa=20.0, temperature_c=10.0, earliest_h=30.12, likely_h=31.74, safe_h=45.01)
    (found,) = by_heading(hours_table((row,)))
    assert {heading: number(cell) for heading, cell in found.items()} == {
        "strength, MPa": 20.0, "concrete, C": 10.0, "earliest, h": 30.1, "likely, h": 31.7, "safe, h": 45.1,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "judged"),
    [
        ({}, "as chance explains"),
        ({"is_inside_tolerance": False}, "as chance explains, beyond tolerance"),
        ({"is_within_limit": False}, "BEYOND"),
        ({"is_within_limit": False, "is_inside_tolerance": False}, "BEYOND, beyond tolerance"),
        ({"is_judged": False}, "outside the breaks"),
        ({"is_judged": False, "is_inside_tolerance": False}, "outside the breaks"),
    ],
)
def test_companions_of_a_trial_batch(issue: Issue, changes: dict[str, bool], judged: str) -> None:
    check = CompanionCheck(
        companions=COMPANIONS, sd=0.05, z=-1.8, is_judged=True, is_within_limit=True, is_inside_tolerance=True,
        chance_to_turn=1.0,
    )  # fmt: skip
    assert issue.acceptance is not None
    asked = replace(issue, acceptance=replace(issue.acceptance, checks=(replace(check, **changes),)))
    (row,) = by_heading(companions_table(asked))
    assert row.pop("judged") == judged
    assert row.pop("companions") == "12 h, north"  # the batch is named where there are several
    assert {heading: number(cell) for heading, cell in row.items()} == {
        "n": 3, "maturity, h": 9.4, "read, MPa": 10.0, "broken, MPa": 9.1, "difference": -9.0, "z": -1.8,
    }  # fmt: skip
    assert "below nought weaker than read" in companions_table(asked).note


@pytest.mark.parametrize(
    ("n_judged", "n_others", "said"), [(2, 1, "none of the 2 departs"), (1, 2, "it does not depart"), (0, 1, "it does")]
)
def test_how_many_companions_are_judged_is_told(issue: Issue, n_judged: int, n_others: int, said: str) -> None:
    assert issue.acceptance is not None
    first = issue.acceptance.checks[0]
    checks = (replace(first, is_judged=True),) * n_judged + (replace(first, is_judged=False),) * n_others
    asked = replace(issue, acceptance=replace(issue.acceptance, checks=checks))
    last = section(curve_account(asked), "Companions").blocks[-1]
    assert isinstance(last, Paragraph)
    assert said in last.text


def test_the_fitted_curve_stands_first_among_the_others(issue: Issue) -> None:
    (table,) = tables(section(curve_account(issue), "Fit"))
    rows = by_heading(table)
    batch = issue.curve.batches[0].batch
    assert table.n_marked == 1
    assert rows[0][f"curve on {batch}"] == issue.curve.curve
    by_curve = {other.curve: other for other in issue.others[0]}
    assert len(rows) == len(by_curve) > 1
    for row in rows:
        other = by_curve[row[f"curve on {batch}"]]
        assert number(row["RMS departure"]) == pytest.approx(100 * other.rms_departure, abs=0.051)
        for age_h, read in zip(issue.curve.target_ages_h, other.read_mpa, strict=True):
            assert number(row[f"{age_label(age_h)}, MPa"]) == pytest.approx(read, abs=0.051)


def test_what_each_age_does() -> None:
    advice = invented_recommendation()
    chosen = dict(zip(advice.recommended.schedule.ages_h, advice.recommended.schedule.specimens, strict=True))
    shown: list[float] = []
    for table in tables(section(brief_account(advice), "What each age does")):
        first, *ages = table.columns
        assert first == Column(heading="age")
        rows = {row[0]: row[1:] for row in table.rows}
        for at, column in enumerate(ages):
            role = next(one for one in advice.ages if age_label(one.age_h) == column.heading.removesuffix("!"))
            assert column.heading.endswith("!") == role.is_required
            assert number(rows["specimens"][at]) == chosen.get(role.age_h)
            for name, value in (
                ("in the best schedule, %", role.inclusion),
                ("RMS without it, %", role.rms_if_dropped),
                ("RMS with it, %", role.rms_if_added),
            ):
                assert number(rows[name][at]) == (None if value is None else pytest.approx(100 * value, abs=0.051))
            shown.append(role.age_h)
        assert (table.note == "!: required.") == any(column.heading.endswith("!") for column in ages)
    assert shown == [role.age_h for role in advice.ages]  # each once, in its order
