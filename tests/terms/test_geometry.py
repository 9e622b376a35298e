"""Shape, size and stated precision of specimens."""

from __future__ import annotations

import math

import pytest

from planner.terms.plan.geometry import is_cylinder, load_kn, specimen_litres
from planner.terms.plan.precision import stated_precision


@pytest.mark.parametrize(
    ("geometry", "cv"),
    [
        ("cylinder 100x200 mm", 0.032),
        ("cylinder 102x203 mm", 0.032),
        ("cylinder 4x8 in", 0.032),
        ("cylinder 150x300 mm", 0.024),
        ("cylinder 6x12 in", 0.024),
        ("cylinder 75x150 mm", None),
        ("cylinder 100x100 mm", None),
        ("cube 100 mm", 0.032),  # EN 12390-3 (memory)
        ("cube 150x150x150 mm", 0.032),
        ("cube 100x100x50 mm", None),
        ("cube 50 mm", None),
        ("", None),
    ],
)
def test_a_precision_statement_covers_its_own_geometry_alone(geometry: str, cv: float | None) -> None:
    stated = stated_precision(geometry)
    assert (stated.within_test_cv if stated else None) == cv


@pytest.mark.parametrize(
    ("geometry", "litres"),
    [
        ("cylinder 100x200 mm", math.pi / 2),
        ("Cylinder 100 × 200 mm", math.pi / 2),
        ("cylinder 15x30 cm", math.pi / 4 * 1.5**2 * 3),
        ("cylinder 4x8 in", math.pi / 4 * 1.016**2 * 2.032),
        ("cube 100 mm", 1.0),
        ("cube 150x150x150 mm", 3.375),
        ("prism 100x100x400 mm", 4.0),
        ("prism 40x40x160 mm", 0.256),
    ],
)
def test_volumes(geometry: str, litres: float) -> None:
    assert specimen_litres(geometry) == pytest.approx(litres)


@pytest.mark.parametrize(
    ("geometry", "kn"),
    [
        ("cylinder 100x200 mm", 30 * math.pi / 4 * 10),
        ("cylinder 150x300 mm", 30 * math.pi / 4 * 22.5),
        ("cube 100 mm", 300.0),
        ("cube 150x150x150 mm", 675.0),
        ("prism 100x100x400 mm", None),
        ("ball", None),
    ],
)
def test_the_load_of_30_mpa(geometry: str, kn: float | None) -> None:
    assert load_kn(geometry, 30.0) == (None if kn is None else pytest.approx(kn))
    assert is_cylinder(geometry) is geometry.startswith("cylinder")


@pytest.mark.parametrize(
    ("geometry", "message"),
    [
        ("ball 100 mm", 'Geometry "ball 100 mm" cannot be read'),
        ("cylinder 100x200", "cannot be read"),
        ("", "cannot be read"),
        ("cylinder 100 mm", "a cylinder takes 2 sizes above 0, given 1"),
        ("cube 100x100 mm", "a cube takes 1 or 3 sizes"),
        ("cube 0 mm", "above 0"),
    ],
)
def test_shapes_that_cannot_be_read(geometry: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        specimen_litres(geometry)
