"""How far from its nominal age a specimen may be broken.

Two standards are known by name; any other set of limits is written out in the plan, like
``24 h +-0.5 h, 7 d +-6 h, other +-2 %``. Ages are hours since age zero.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from planner.terms.labels import shortened

HOURS_IN = {"min": 1.0 / 60.0, "h": 1.0, "d": 24.0}
SAME_AGE_H = 1e-6  # ages closer than this are one age: 1/3 d written two ways

_NUMBER = r"\d+(?:[.,]\d+)?"
_ENTRY = re.compile(
    rf"(?:(?P<age>{_NUMBER})\s*(?P<age_unit>min|h|d)|(?P<other>other))"
    rf"\s*(?:\+-|\+/-|±)\s*(?P<deviation>{_NUMBER})\s*(?P<unit>min|h|d|%)",
    re.IGNORECASE,
)
_SEPARATOR = re.compile(r";|,(?!\d)|(?<!\d),")  # a comma between two digits is a decimal comma


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeTolerances:
    """Permitted deviations, one per listed age."""

    name: str  # as the plan writes it
    listed_h: tuple[tuple[float, float], ...]  # (age [h], permitted deviation [h]) pairs, rising
    unlisted_share: float | None = None  # deviation at any other age as a share of it; None: not covered
    note: str = ""  # where it may be used, "" where nothing needs saying

    def __post_init__(self) -> None:
        faults = [
            f"{_age(age_h)} +-{deviation_h:g} h"
            for age_h, deviation_h in self.listed_h
            if not (0 < deviation_h < age_h < math.inf)
        ]
        if faults:
            raise ValueError(f"A permitted deviation must be above 0 and below its age, given {', '.join(faults)}.")
        ages_h = [age_h for age_h, _ in self.listed_h]
        twice = [_age(a) for a, b in pairwise(ages_h) if b - a <= SAME_AGE_H]
        if twice:
            raise ValueError(f"Age tolerances must name each age once, but {', '.join(twice)} stands twice.")
        if self.unlisted_share is not None and not 0 < self.unlisted_share < 1:
            raise ValueError(
                f"The deviation at other ages must lie between 0 and 100 %, given {100 * self.unlisted_share:g} %."
            )

    def deviation_h(self, age_h: float) -> float | None:
        """Permitted deviation at an age [h], None where the table does not cover it."""
        for listed_h, deviation_h in self.listed_h:
            if abs(listed_h - age_h) <= SAME_AGE_H:
                return deviation_h
        return None if self.unlisted_share is None else self.unlisted_share * age_h


# ASTM C39: 24 h and 3, 7, 28, 90 d read in a secondary source; 12 h, 56 d and the 2 % of unlisted ages
# from memory.
ASTM_C39 = AgeTolerances(
    name="ASTM C39",
    listed_h=(
        (12.0, 0.25),
        (24.0, 0.5),
        (72.0, 2.0),
        (168.0, 6.0),
        (672.0, 20.0),
        (1344.0, 40.0),
        (2160.0, 48.0),
    ),
    unlisted_share=0.02,
)
EN_196_1 = AgeTolerances(  # from memory
    name="EN 196-1",
    listed_h=((24.0, 0.25), (48.0, 0.5), (72.0, 0.75), (168.0, 2.0), (672.0, 8.0)),
    note="The age tolerances of EN 196-1 are for mortar prisms, not for concrete.",
)
TWO_PERCENT = "other +-2 %"  # of any age, where no limits are named (common practice, no source)
STANDARDS: tuple[AgeTolerances, ...] = (ASTM_C39, EN_196_1)


def limits_unless_named(geometries: Iterable[str]) -> str:
    """Limits that are taken where a plan names none.

    ASTM C39 tests cylinders: cubes and prisms are held to 2 % of the age.

    Parameters
    ----------
    geometries
        Of the specimens, like ``cube 100 mm``; "" or none where nobody says.
    """
    is_another = any(geometry and not geometry.startswith("cylinder") for geometry in geometries)
    return TWO_PERCENT if is_another else ASTM_C39.name


def permitted_window_h(age_h: float, *, standard: str) -> tuple[float, float]:
    """Give the youngest and the oldest age at which a break still counts as this age.

    Parameters
    ----------
    age_h
        Nominal age since age zero [h].
    standard
        ``ASTM C39``, ``EN 196-1`` (mortar), or the limits themselves.

    Returns
    -------
    tuple
        Earliest and latest age since age zero [h]: 23.5 and 24.5 at 24 h under ASTM C39.

    Raises
    ------
    ValueError
        The age is not a positive number, the limits cannot be read, or they do not cover this age.
    """
    deviation_h = permitted_deviation_h(age_h, standard=standard)
    return age_h - deviation_h, age_h + deviation_h


def permitted_deviation_h(age_h: float, *, standard: str) -> float:
    """Give the permitted deviation either way at an age [h]. Raises like `permitted_window_h`."""
    if not 0 < age_h < math.inf:
        raise ValueError(f"A break age must be a number of hours above 0, given {age_h:g}.")
    tolerances = age_tolerances(standard)
    deviation_h = tolerances.deviation_h(age_h)
    if deviation_h is None:
        raise ValueError(_not_covered(tolerances, (age_h,)))
    return deviation_h


def check_ages_covered(ages_h: Iterable[float], *, standard: str) -> None:
    """Raise ValueError naming every age that the tolerances do not cover, at once."""
    tolerances = age_tolerances(standard)
    missing_h = tuple(age_h for age_h in ages_h if tolerances.deviation_h(age_h) is None)
    if missing_h:
        raise ValueError(_not_covered(tolerances, missing_h))


@lru_cache(maxsize=64)
def age_tolerances(standard: str) -> AgeTolerances:
    """Look a standard up by name, or read limits that are written out.

    Parameters
    ----------
    standard
        ``ASTM C39``, ``EN 196-1`` or entries parted by commas or semicolons: an age in h or d (or the
        word ``other`` for all the rest), ``+-`` or ``±``, a deviation in min, h, d or % of the age.

    Raises
    ------
    ValueError
        Names every entry that cannot be read.
    """
    for known in STANDARDS:
        if _folded(known.name) == _folded(standard):
            return known
    if not re.search(r"\+-|\+/-|±", standard):
        raise ValueError(
            f'Age tolerances "{shortened(standard)}" are not known. Allowed are {_known_names()}, '
            'or limits written out like "24 h +-0.5 h, 7 d +-6 h, other +-2 %".'
        )
    return _read_limits(standard)


def _read_limits(text: str) -> AgeTolerances:
    entries = [entry.strip() for entry in _SEPARATOR.split(text) if entry.strip()]
    matches = [(entry, _ENTRY.fullmatch(entry)) for entry in entries]
    unread = [f'"{entry}"' for entry, match in matches if match is None]
    unread += [f'"{e}"' for e, m in matches if m and m["other"] and m["unit"] != "%"]
    if unread:
        raise ValueError(
            f"Age tolerances cannot be read at {', '.join(unread)}. "
            'Write an age, +- and a deviation, like "24 h +-0.5 h", or "other +-2 %" for all other ages.'
        )
    found = [match for _, match in matches if match is not None]
    others = [_number(match["deviation"]) / 100.0 for match in found if match["other"]]
    if len(others) > 1:
        raise ValueError(f'Age tolerances give "other" {len(others)} times. Keep one.')
    listed_h = tuple(sorted(_listed(match) for match in found if not match["other"]))
    return AgeTolerances(name=text, listed_h=listed_h, unlisted_share=others[0] if others else None)


def _listed(match: re.Match[str]) -> tuple[float, float]:
    age_h = _number(match["age"]) * HOURS_IN[match["age_unit"].lower()]
    deviation = _number(match["deviation"])
    if match["unit"] == "%":
        return age_h, deviation / 100.0 * age_h
    return age_h, deviation * HOURS_IN[match["unit"].lower()]


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _not_covered(tolerances: AgeTolerances, ages_h: tuple[float, ...]) -> str:
    covered = ", ".join(_age(age_h) for age_h, _ in tolerances.listed_h)
    return (
        f'Age tolerances "{tolerances.name}" do not cover {", ".join(_age(age_h) for age_h in ages_h)}. '
        f'They cover {covered or "no age"}. Write the limits out and add "other +-2 %" or the missing ages.'
    )


def _age(age_h: float) -> str:
    return f"{age_h:g} h"


def _known_names() -> str:
    return ", ".join(f'"{known.name}"' for known in STANDARDS)


def _folded(text: str) -> str:
    return re.sub(r"[\s_-]+", "", text).casefold()
