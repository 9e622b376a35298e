"""How much concrete a specimen holds, from the words that name its shape."""

from __future__ import annotations

import math
import re

MM_IN = {"mm": 1.0, "cm": 10.0, "in": 25.4}
CUBIC_MM_PER_LITRE = 1e6
SIZES_ALLOWED = {"cylinder": (2,), "cube": (1, 3), "prism": (3,)}  # sizes that may be given for each shape

_GEOMETRY = re.compile(
    r"(?P<shape>[a-z]+)\s+(?P<sizes>\d+(?:[.,]\d+)?(?:\s*[x×]\s*\d+(?:[.,]\d+)?)*)\s*(?P<unit>mm|cm|in)"
)


def specimen_litres(geometry: str) -> float:
    """Compute the volume of one specimen [L].

    Parameters
    ----------
    geometry
        ``cylinder 100x200 mm`` (diameter, height), ``cube 100 mm``, ``prism 100x100x400 mm``.

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
    sizes_mm = [
        float(size.replace(",", ".")) * MM_IN[match["unit"]] for size in re.split(r"\s*[x×]\s*", match["sizes"])
    ]
    allowed = SIZES_ALLOWED[match["shape"]]
    if len(sizes_mm) not in allowed or min(sizes_mm) <= 0:
        raise ValueError(
            f'Geometry "{geometry}": a {match["shape"]} takes {" or ".join(map(str, allowed))} sizes '
            f"above 0, given {len(sizes_mm)}."
        )
    if match["shape"] == "cylinder":
        diameter_mm, height_mm = sizes_mm
        return math.pi / 4.0 * diameter_mm**2 * height_mm / CUBIC_MM_PER_LITRE
    return math.prod(sizes_mm if len(sizes_mm) == 3 else sizes_mm * 3) / CUBIC_MM_PER_LITRE
