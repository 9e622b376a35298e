"""Ages on a logarithmic line of characters."""

from __future__ import annotations

from planner.report.text.age_picture import LABEL_WIDTH, draw_ages
from planner.report.text.blocks import AgeLine, AgePicture


def picture(*ages_h: float) -> AgePicture:
    line = AgeLine(label="schedule", marks=tuple((age, "3") for age in ages_h))
    return AgePicture(lines=(line,), ticks_h=ages_h)


def test_equal_ratios_stand_equally_far_apart() -> None:
    marks = draw_ages(picture(1.0, 10.0, 100.0), width=81, is_ascii=True)[0][LABEL_WIDTH:]
    first, second, third = (place for place, character in enumerate(marks) if character == "3")
    assert second - first == third - second


def test_marks_that_would_collide_stand_side_by_side() -> None:
    row = draw_ages(picture(24.0, 24.1, 24.2, 672.0), width=80, is_ascii=True)[0]
    assert row.count("3") == 4
    assert "333" in row


def test_marks_at_the_far_end_are_not_lost() -> None:
    row = draw_ages(picture(4.0, 671.0, 672.0), width=80, is_ascii=True)[0]
    assert row.count("3") == 3
    assert len(row) <= 80


def test_labels_never_run_into_each_other() -> None:
    labels = draw_ages(picture(4.0, 4.5, 5.0, 6.0, 672.0), width=80, is_ascii=True)[-1]
    assert labels.split() == ["4", "h", "6", "h", "28", "d"] or "4 h 5 h" in " ".join(labels.split())


def test_a_single_age_and_none_at_all_are_drawn() -> None:
    assert "3" in draw_ages(picture(24.0), width=80, is_ascii=True)[0]
    assert draw_ages(AgePicture(lines=(), ticks_h=()), width=80, is_ascii=False) == ()
