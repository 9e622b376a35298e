"""Quantities as people write them in a plan or a cell: "12 h", "10 %", 0.10, 24."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from planner.read.parsing.findings import shown
from planner.units import HOURS_PER_DAY, MINUTES_PER_HOUR, mpa_from_ksi, mpa_from_psi

_DURATION = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([a-zA-Z]+)\s*\Z")
_DIGITS_AND_COMMA = re.compile(r"\d,\d")
_SHARE = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*(%?)\s*\Z")
NO_COMMAS = "Thousands are not parted in a number, and decimals follow a point: 25000, 25.5."
LARGEST = 1e12  # no price, count or quantity of a plan comes near
LONGEST_H = 1_000_000.0  # 114 years
STRONGEST_MPA = 300.0  # no concrete is stronger
_MPA_FROM: dict[str, Callable[[float], float]] = {
    "mpa": lambda strength: strength,
    "ksi": mpa_from_ksi,
    "psi": mpa_from_psi,
}
_HOURS_IN = {
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 1.0 / MINUTES_PER_HOUR),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 1.0),
    **dict.fromkeys(("d", "day", "days"), HOURS_PER_DAY),
    **dict.fromkeys(("w", "wk", "week", "weeks"), 7 * HOURS_PER_DAY),
}


def parse_duration(value: object) -> float:
    """Read an age or a gap such as "12 h", "3 d" or "90 min" as hours.

    Raises
    ------
    ValueError
        If it is not text with a number and a unit. Bare numbers are refused: 28 may be hours or days.
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        number = f"{value:.6g}" if abs(value) <= LARGEST else "12"
        raise ValueError(f'Given {shown(value)} without a unit. Write "{number} h" or "{number} d".')
    found = _DURATION.match(value) if isinstance(value, str) else None
    if found is None or found[2].lower() not in _HOURS_IN:
        raise ValueError(f'Given {shown(value)}, which is no duration. Write it like "12 h" or "3 d".')
    hours = float(found[1].replace(",", ".")) * _HOURS_IN[found[2].lower()]
    if abs(hours) > LONGEST_H:
        raise ValueError(
            f"Given {shown(value)}, longer than any concrete has been tested. Correct the number or the unit."
        )
    return round(hours, 9)  # 20 min x 3 is one hour


def parse_strength(value: object) -> float:
    """Read a strength such as "20 MPa", "3 ksi" or "3000 psi" as MPa.

    Raises
    ------
    ValueError
        If it is not text with a number and a unit, or no strength that concrete has.
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        number = f"{value:.6g}" if abs(value) <= LARGEST else "20"
        raise ValueError(f'Given {shown(value)} without a unit. Write "{number} MPa" or "{number} psi".')
    found = _DURATION.match(value) if isinstance(value, str) else None
    if found is None or found[2].lower() not in _MPA_FROM:
        raise ValueError(f'Given {shown(value)}, which is no strength. Write it like "20 MPa" or "3000 psi".')
    strength_mpa = _MPA_FROM[found[2].lower()](float(found[1].replace(",", ".")))
    if not 0 < strength_mpa <= STRONGEST_MPA:
        raise ValueError(
            f"Given {shown(value)}; a strength is above 0 and at most {STRONGEST_MPA:g} MPa. Correct number or unit."
        )
    return strength_mpa


def parse_share(value: object) -> float:
    """Read a share such as "10 %" or 0.10.

    Raises
    ------
    ValueError
        If it is neither text with a number and % nor a number.
    """
    if isinstance(value, str):
        found = _SHARE.match(value)
        if found is None:
            raise ValueError(f'Given {shown(value)}, which is no percentage. Write it like "10 %" or 0.10.')
        return parse_number(float(found[1].replace(",", "."))) / (100.0 if found[2] else 1.0)
    return parse_number(value)


def parse_number(value: object) -> float:
    """Read a finite number of a plan.

    Raises
    ------
    ValueError
        If it is no number, or not finite.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        hint = f" {NO_COMMAS}" if _has_comma(value) else ""
        raise ValueError(f"Given {shown(value)}, which is no number. Write it without quotes and units.{hint}")
    try:
        number = float(value)
    except OverflowError:  # a whole number of hundreds of digits
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"Given {shown(value)}, which is not a finite number.")
    if abs(number) > LARGEST:
        raise ValueError(f"Given {shown(value)}, larger than any price or quantity. Correct it.")
    return number


def _has_comma(value: object) -> bool:
    return isinstance(value, str) and _DIGITS_AND_COMMA.search(value) is not None


def parse_whole(value: object) -> int:
    """Read a whole number of a plan.

    Raises
    ------
    ValueError
        If it is no whole number that fits a count.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
        raise ValueError(f"Given {shown(value)}, which is no whole number.")
    if abs(value) > 1e9:
        raise ValueError(f"Given {shown(value)}, which is too large for a count.")
    if value != int(value):
        raise ValueError(f"Given {shown(value)}, which is no whole number.")
    return int(value)
