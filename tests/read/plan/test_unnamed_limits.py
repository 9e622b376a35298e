"""Age tolerances that a plan does not name: ASTM C39 is of cylinders, cubes are held to 2 % of the age."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.laboratory.clock.clock_words import no_laboratory
from planner.read import load_plan
from planner.terms.plan.settings import Plan
from planner.terms.plan.tolerances import limits_unless_named, permitted_window_h
from tests.read.invented_study import break_rows, plan_text, write_study

OPEN = 'open = "07:00-17:00"'
NAMED = OPEN + '\nage_tolerances = "ASTM C39"'


@pytest.mark.parametrize(
    ("geometries", "limits"),
    [
        ((), "ASTM C39"),
        (("",), "ASTM C39"),
        (("cylinder 100x200 mm", ""), "ASTM C39"),
        (("cube 150 mm",), "other +-2 %"),
        (("cylinder 100x200 mm", "cube 100 mm"), "other +-2 %"),
        (("prism 40x40x160 mm",), "other +-2 %"),
    ],
)
def test_limits_follow_what_is_broken(geometries: tuple[str, ...], limits: str) -> None:
    assert limits_unless_named(geometries) == limits


def plan_of(folder: Path, geometry: str, laboratory: str | None, *, late_h: float = 0.0) -> Plan:
    """The invented study with this specimen; its breaks at 28 d so many hours late."""
    rows = [[*row[:3], geometry, *row[4:]] for row in break_rows()[1:]]
    for row in rows:
        row[5] += late_h if row[5] == 672 else 0.0
    return load_plan(write_study(folder, breaks=[break_rows()[0], *rows], plan=plan_text(laboratory=laboratory)))


@pytest.mark.parametrize(
    ("geometry", "laboratory", "limits"),
    [
        ("cube 150 mm", OPEN, "other +-2 %"),
        ("cube 150 mm", None, "other +-2 %"),
        ("cube 150 mm", NAMED, "ASTM C39"),
        ("cylinder 150x300 mm", OPEN, "ASTM C39"),
        ("cylinder 150x300 mm", None, "ASTM C39"),
    ],
)
def test_a_plan_of_cubes_is_not_held_to_a_standard_of_cylinders(
    tmp_path: Path, geometry: str, laboratory: str | None, limits: str
) -> None:
    taken = plan_of(tmp_path, geometry, laboratory).settings.laboratory_taken
    assert taken.age_tolerances == limits
    # at 28 d: 20 h by ASTM C39, 2 % of 672 h are 13.44 h
    least, most = permitted_window_h(672.0, standard=taken.age_tolerances)
    assert (most - least) / 2 == pytest.approx(20.0 if limits == "ASTM C39" else 13.44)


@pytest.mark.parametrize(
    ("geometry", "late_h", "said"),
    [
        ("cube 150 mm", 13.7, "the age window of other +-2 %"),
        ("cube 150 mm", 13.3, ""),
        ("cylinder 150x300 mm", 13.7, ""),
    ],
)
def test_breaks_of_the_records_are_held_to_the_same(tmp_path: Path, geometry: str, late_h: float, said: str) -> None:
    records = plan_of(tmp_path, geometry, OPEN, late_h=late_h).records
    texts = [caution.text for caution in records.cautions if caution.code == "outside-age-window"]
    assert len(texts) == bool(said)
    assert all(said in text for text in texts)


def test_words_of_a_plan_without_a_laboratory_name_what_is_taken() -> None:
    assert "may be off their age as other +-2 % allows" in no_laboratory("other +-2 %")
    assert "may be off their age as ASTM C39 allows" in no_laboratory("ASTM C39")
