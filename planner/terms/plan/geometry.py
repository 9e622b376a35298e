"""Shape and size of a specimen from the words that name it, its volume and its load."""

from __future__ import annotations

import math
import re

from planner.terms.labels import shortened

MM_IN = {"mm": 1.0, "cm": 10.0, "in": 25.4}
CUBIC_MM_PER_LITRE = 1e6
SIZES_ALLOWED = {"cylinder": (2,), "cube": (1, 3), "prism": (3,)}  # sizes that may be given for each shape

_GEOMETRY = re.compile(
    r"(?:(?P<shape>[a-z]+)\s+)?(?P<sizes>\d+(?:[.,]\d+)?(?:\s*[x×]\s*\d+(?:[.,]\d+)?)*)\s*(?P<unit>mm|cm|in)"
)
NOMINAL_SIZES = (  # [mm], by shape: those that a standard states a precision for
    ("cylinder", (100.0, 200.0)),
    ("cylinder", (150.0, 300.0)),
    ("cube", (100.0,)),
    ("cube", (150.0,)),
)
SAME_SIZE = 0.025  # 102 mm and 4 in are the 100 mm cylinder: sizes closer than this share are one nominal size


def sizes_mm(geometry: str) -> tuple[str, tuple[float, ...]]:
    """Read shape and sizes.

    Parameters
    ----------
    geometry
        ``cylinder 100x200 mm`` (diameter, height), ``cube 100 mm``, ``prism 100x100x400 mm``. Two sizes without a
        shape, ``4x8 in``, are a cylinder, as the trade writes it.

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
    shape = None if match is None else match["shape"] or ("cylinder" if _is_pair(match["sizes"]) else None)
    if match is None or shape not in SIZES_ALLOWED:
        raise ValueError(
            f'Geometry "{shortened(geometry)}" cannot be read. Write "cylinder 100x200 mm", "cube 100 mm" '
            'or "prism 100x100x400 mm".'
        )
    sizes = tuple(
        float(size.replace(",", ".")) * MM_IN[match["unit"]] for size in re.split(r"\s*[x×]\s*", match["sizes"])
    )
    allowed = SIZES_ALLOWED[shape]
    if len(sizes) not in allowed or min(sizes) <= 0:
        raise ValueError(
            f'Geometry "{geometry}": a {shape} takes {" or ".join(map(str, allowed))} sizes '
            f"above 0, given {len(sizes)}."
        )
    return shape, sizes


def _is_pair(sizes: str) -> bool:
    return len(re.split("[x×]", sizes)) == 2


def nominal_geometry(geometry: str) -> str:
    """Write a geometry by its nominal sizes: ``4x8 in`` and ``cylinder 102x203 mm`` are ``cylinder 100x200 mm``.

    Raises
    ------
    ValueError
        As :func:`sizes_mm`.
    """
    shape, sizes = sizes_mm(geometry)
    if shape == "cube":
        sizes = sizes[:1] if len(set(sizes)) == 1 else sizes
    nominal = next((known for name, known in NOMINAL_SIZES if name == shape and is_size(sizes, known)), sizes)
    return f"{shape} {'x'.join(f'{size:g}' for size in nominal)} mm"


def is_size(sizes: tuple[float, ...], nominal: tuple[float, ...]) -> bool:
    """Whether sizes are those nominal ones, near enough."""
    return len(sizes) == len(nominal) and all(
        abs(size / wanted - 1.0) <= SAME_SIZE for size, wanted in zip(sizes, nominal, strict=True)
    )


def least_side_mm(geometry: str) -> float:
    """Diameter of a cylinder, shortest side of another shape [mm].

    Raises
    ------
    ValueError
        As :func:`sizes_mm`.
    """
    shape, sizes = sizes_mm(geometry)
    return sizes[0] if shape == "cylinder" else min(sizes)


def are_ends_prepared(geometry: str) -> bool:
    """Whether specimens are ground or capped before they are broken: cubes are broken on moulded faces."""
    return not geometry.strip().lower().startswith("cube")


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


def is_cylinder(geometry: str) -> bool:
    """Whether the words name a cylinder; False where they cannot be read."""
    try:
        return sizes_mm(geometry)[0] == "cylinder"
    except ValueError:
        return False


def load_kn(geometry: str, strength_mpa: float) -> float | None:
    """Load at which a cylinder or cube of this compressive strength breaks [kN]; None where no area can be told."""
    try:
        shape, sizes = sizes_mm(geometry)
    except ValueError:
        return None
    if shape == "prism":
        return None
    area_mm2 = math.pi / 4.0 * sizes[0] ** 2 if shape == "cylinder" else sizes[0] * sizes[-1 if len(sizes) == 1 else 1]
    return strength_mpa * area_mm2 / 1000.0
