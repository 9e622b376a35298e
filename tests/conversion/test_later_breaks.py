"""Breaks after the plan of another geometry than the curve's two: one message a batch and geometry."""

from __future__ import annotations

import pytest

from planner.conversion.later_breaks import in_target_geometry
from planner.terms.problems import InputError
from planner.terms.records import Break, GivenRecords, Records
from planner.terms.results.after_casting.curve_conversion import CurveConversion

FOUND = CurveConversion(
    from_geometry="cube 100 mm", to_geometry="cylinder 150x300 mm", form="ratio", factor=0.84, exponent=1.0, rms=0.02,
    span_mpa=(8.0, 60.0), n_pairs=20, n_batches=5,
)  # fmt: skip


def told(geometries: dict[int, tuple[str, str]]) -> list[str]:
    """Problems of breaks given as row: (batch, geometry)."""
    breaks = tuple(
        Break(
            batch=batch,
            mix="",
            curing="standard",
            age_h=24.0,
            tested_h=24.0,
            strength_mpa=20.0,
            geometry=shape,
            row=row,
        )
        for row, (batch, shape) in geometries.items()
    )
    with pytest.raises(InputError) as caught:
        in_target_geometry(GivenRecords(file="trial.csv", records=Records(breaks=breaks)), FOUND)
    return [str(problem) for problem in caught.value.problems]


def test_a_whole_file_of_another_geometry_is_one_message() -> None:
    (text,) = told(dict.fromkeys(range(2, 29), ("T1", "cube 150 mm")))
    assert text.startswith('trial.csv, row 2, column geometry: 27 breaks of "T1" are of cube 150 mm (rows 3, 4, 5, 6,')
    assert "9, 10 and 18 more too). The curve is of cube 100 mm, read as cylinder 150x300 mm" in text
    assert "or leave the breaks out" in text


def test_one_break_of_it_is_told_by_its_row_alone() -> None:
    (text,) = told({2: ("T1", "cube 100 mm"), 3: ("T1", "cube 150 mm"), 4: ("T1", "cylinder 150x300 mm")})
    assert text == (
        'trial.csv, row 3, column geometry: 1 break of "T1" is of cube 150 mm. The curve is of cube 100 mm, read as '
        "cylinder 150x300 mm: write one of the two in the column geometry, or leave the break out."
    )


def test_batches_and_geometries_are_told_apart() -> None:
    texts = told({2: ("T1", "cube 150 mm"), 3: ("T1", ""), 4: ("T1", ""), 5: ("T2", "cube 150 mm")})
    assert [text.split(".")[1].partition(": ")[2] for text in texts] == [
        '1 break of "T1" is of cube 150 mm',
        '2 breaks of "T1" do not say their geometry (rows 4 too)',
        '1 break of "T2" is of cube 150 mm',
    ]


def test_nine_rows_are_all_named() -> None:
    (text,) = told(dict.fromkeys(range(2, 11), ("T1", "cube 150 mm")))
    assert "(rows 3, 4, 5, 6, 7, 8, 9, 10 too)" in text
    (text,) = told(dict.fromkeys(range(2, 12), ("T1", "cube 150 mm")))
    assert "(rows 3, 4, 5, 6, 7, 8, 9, 10 and 1 more too)" in text
