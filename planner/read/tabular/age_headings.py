"""Headings that are ages, as on sheets with one row a batch: "12 h", "28 d (psi)", "3 d #2"."""

from __future__ import annotations

import re

_UNIT = r"(?P<unit>mpa|n/mm(?:2|²|\^2)|psi|ksi)"
_AGE_HEADING = re.compile(
    r"\s*(?P<age>\d+(?:[.,]\d+)?[\s-]?(?:min|h|hr|hrs|hours?|d|days?))\b\.?"
    rf"\s*[\[(]?\s*(?:{_UNIT})?\s*[\])]?"
    r"\s*(?:[-_./#( ]*\s*(?:no\.?|nr\.?|rep(?:licate)?|specimen|cyl(?:inder)?|cube)?"
    r"\s*[-_.#]?\s*(?P<which>\d{1,2}|[a-z])\s*\)?)?"
    rf"\s*[\[(]?\s*(?:{_UNIT.replace('unit', 'late_unit')})?\s*[\])]?\s*\Z",
    re.IGNORECASE,
)


def match_age_heading(heading: str) -> re.Match[str] | None:
    """Match a heading that is an age, with or without a replicate number and a unit; else None."""
    return _AGE_HEADING.match(heading.replace("_", " "))
