"""Shape and size of a specimen from the words that name it: its volume, and the precision stated for it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

MM_IN = {"mm": 1.0, "cm": 10.0, "in": 25.4}
CUBIC_MM_PER_LITRE = 1e6
SIZES_ALLOWED = {"cylinder": (2,), "cube": (1, 3), "prism": (3,)}  # sizes that may be given for each shape

_GEOMETRY = re.compile(
    r"(?P<shape>[a-z]+)\s+(?P<sizes>\d+(?:[.,]\d+)?(?:\s*[x×]\s*\d+(?:[.,]\d+)?)*)\s*(?P<unit>mm|cm|in)"
)
SAME_SIZE = 0.025  # 102 mm and 4 in are the 100 mm cylinder: sizes closer than this share are one nominal size


@dataclass(frozen=True, slots=True)
class Precision:
    """What a standard states of replicates of one operator on one day."""

    source: str  # the standard, with where the figure comes from
    within_test_cv: float  # relative


# Within-test coefficient of variation in the laboratory (from memory), by diameter and height in mm.
_ASTM_C39 = {(100.0, 200.0): 0.032, (150.0, 300.0): 0.024}


def sizes_mm(geometry: str) -> tuple[str, tuple[float, ...]]:
    """Read shape and sizes.

    Parameters
    ----------
    geometry
        ``cylinder 100x200 mm`` (diameter, height), ``cube 100 mm``, ``prism 100x100x400 mm``.

    Returns
    -------
    shape, sizes
        The sizes in mm, as many as were written.

    Raises
    ------
    ValueError
        The words cannot be read, or the sizes do not suit the shape.
    """
    match = _GEOMETRY.fullmatch(geometry.strip().lower())
    if match is None or match["shape"] not in SIZES_ALLOWED:
        raise ValueError(
            f'Geometry "{geometry}" cannot be read. Write "cylinder 100x200 mm", "cube 100 mm" '
            'or "prism 100x100x400 mm".'
        )
    sizes = tuple(
        float(size.replace(",", ".")) * MM_IN[match["unit"]] for size in re.split(r"\s*[x×]\s*", match["sizes"])
    )
    allowed = SIZES_ALLOWED[match["shape"]]
    if len(sizes) not in allowed or min(sizes) <= 0:
        raise ValueError(
            f'Geometry "{geometry}": a {match["shape"]} takes {" or ".join(map(str, allowed))} sizes '
            f"above 0, given {len(sizes)}."
        )
    return match["shape"], sizes


def specimen_litres(geometry: str) -> float:
    """Compute the volume of one specimen [L].

    Raises
    ------
    ValueError
        As :func:`sizes_mm`.
    """
    shape, sizes = sizes_mm(geometry)
    if shape == "cylinder":
        diameter_mm, height_mm = sizes
        return math.pi / 4.0 * diameter_mm**2 * height_mm / CUBIC_MM_PER_LITRE
    return math.prod(sizes if len(sizes) == 3 else sizes * 3) / CUBIC_MM_PER_LITRE


def stated_precision(geometry: str) -> Precision | None:
    """Give the precision statement that belongs to a geometry; None where none is known to this program.

    ASTM C39 speaks of cylinders of 100x200 and 150x300 mm alone: cubes and other sizes are not held to it.
    """
    try:
        shape, sizes = sizes_mm(geometry)
    except ValueError:
        return None
    if shape != "cylinder":
        return None
    for nominal, cv in _ASTM_C39.items():
        if all(abs(size / wanted - 1.0) <= SAME_SIZE for size, wanted in zip(sizes, nominal, strict=True)):
            return Precision("ASTM C39", cv)
    return None
