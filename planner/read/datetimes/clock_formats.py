"""Patterns of clock times: declared by the user, or made certain by a column."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass

from planner.read.parsing.findings import shown

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_PARTS = {
    "Y": r"(?P<Y>\d{4})",
    "y": r"(?P<y>\d{2})",
    "m": r"(?P<m>\d{1,2})",
    "b": r"(?P<b>[A-Za-z]{3,9})\.?",
    "B": r"(?P<b>[A-Za-z]{3,9})\.?",
    "d": r"(?P<d>\d{1,2})",
    "H": r"(?P<H>\d{1,2})",
    "I": r"(?P<I>\d{1,2})",
    "M": r"(?P<M>\d{1,2})",
    "S": r"(?P<S>\d{1,2})(?:[.,]\d{1,9})?",
    "p": r"(?P<p>[AaPp])\.?[Mm]\.?",
    "z": r"(?P<z>Z|[+-]\d{2}:?\d{2})",
}
_WORDS = {
    "YYYY": "Y", "YY": "y", "MMM": "b", "MM": "m", "DD": "d", "HH": "H", "hh": "H", "mm": "M", "ss": "S",
    "AM": "p", "PM": "p",
}  # fmt: skip
_WORD = re.compile("|".join(sorted(_WORDS, key=len, reverse=True)))
_NUMERIC = re.compile(
    r"(?P<first>\d{1,2})(?P<mark>[./-])(?P<second>\d{1,2})(?P=mark)(?P<year>\d{2,4})"
    r"(?:,? |T)(?P<rest>\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?: ?[AaPp]\.?[Mm]\.?)?)\Z"
)
_YEAR_FIRST = re.compile(r"\d{4}(?P<mark>[./])\d{1,2}(?P=mark)\d{1,2}[ T,]")


@dataclass(frozen=True, slots=True)
class ClockPattern:
    """How a time is written."""

    text: str  # as declared, for messages
    regex: re.Pattern[str]

    def read(self, text: str) -> dt.datetime:
        """Read a time.

        Raises
        ------
        ValueError
            If it does not follow the pattern or is no time of the calendar.
        """
        found = self.regex.match(text)
        if found is None:
            raise ValueError(f'Given {shown(text)}, which does not follow "{self.text}".')
        part = found.groupdict()
        year = int(part["Y"]) if part.get("Y") else 2000 + int(part["y"])
        if part.get("b"):
            word = part["b"][:3].lower()
            if word not in _MONTHS:
                raise ValueError(f"Given {shown(text)}, in which {shown(part['b'])} is no month.")
            month = _MONTHS.index(word) + 1
        else:
            month = int(part["m"])
        try:
            return dt.datetime(
                year, month, int(part["d"]), _hour(part), int(part["M"]), int(part.get("S") or 0),
                tzinfo=_offset(part.get("z")),
            )  # fmt: skip
        except ValueError:
            raise ValueError(f'Given {shown(text)}, which is no time of the calendar as "{self.text}".') from None


def _hour(part: dict[str, str | None]) -> int:
    hour = int(part.get("H") or part.get("I") or 0)
    half = (part.get("p") or "").lower()
    if not half:
        return hour
    if not 1 <= hour <= 12:
        raise ValueError
    return hour % 12 + (12 if half == "p" else 0)


def _offset(text: str | None) -> dt.timezone | None:
    if not text:
        return None
    if text == "Z":
        return dt.UTC
    minutes = int(text[1:3]) * 60 + int(text[-2:])
    return dt.timezone(dt.timedelta(minutes=-minutes if text[0] == "-" else minutes))


def declared_pattern(text: str) -> ClockPattern:
    """Read a declared pattern: ``DD.MM.YYYY HH:mm``, or codes like ``%d.%m.%Y %H:%M``.

    Raises
    ------
    ValueError
        If a code is not known, stands twice, or day, month, year, hour or minute is missing.
    """
    codes: list[str] = []
    pieces: list[str] = []

    def add(code: str) -> None:
        kind = "H" if code == "I" else "b" if code == "B" else code
        if kind in codes:
            raise ValueError(f"The time format {shown(text)} has a part twice. Give each once.")
        codes.append(kind)
        pieces.append(_PARTS[code])

    place = 0
    while place < len(text):
        word = None if "%" in text else _WORD.match(text, place)
        if text[place] == "%":
            code = text[place + 1 : place + 2]
            if code not in _PARTS:
                raise ValueError(
                    f"The time format {shown(text)} has %{code}, which is not known. Known are "
                    + ", ".join(f"%{known}" for known in _PARTS) + "."
                )  # fmt: skip
            add(code)
            place += 2
        elif word:
            add(_WORDS[word[0]])
            place = word.end()
        elif text[place].isspace():
            pieces.append(r"\s*")
            place += 1
        else:
            pieces.append(re.escape(text[place]))
            place += 1
    missing = [
        name
        for name, allowed in (("day", "d"), ("month", "mb"), ("year", "Yy"), ("hour", "H"), ("minute", "M"))
        if not any(code in codes for code in allowed)
    ]
    if missing:
        raise ValueError(f'The time format {shown(text)} lacks {", ".join(missing)}. Write it like "DD.MM.YYYY HH:mm".')
    return ClockPattern(text, re.compile("".join(pieces) + r"\Z", re.ASCII))


def _loose(order: str, mark: str) -> ClockPattern:
    """A date in this order with any usual time of day after it."""
    day, month = _PARTS["d"], _PARTS["m"]
    sep = re.escape(mark)
    first, second = (day, month) if order == "day" else (month, day)
    clock = rf"{_PARTS['H']}:{_PARTS['M']}(?::{_PARTS['S']})?(?:\s?{_PARTS['p']})?"
    name = f"DD{mark}MM{mark}YYYY" if order == "day" else f"MM{mark}DD{mark}YYYY"
    return ClockPattern(name, re.compile(rf"{first}{sep}{second}{sep}{_PARTS['Y']}(?:,?\s|T){clock}\Z", re.ASCII))


IN_DOUBT = "The order of day and month is not certain in this column. Write the year first, or declare time_format."


def readings_of(text: str) -> str | None:
    """Both readings of a time whose day and month may change places; None where they may not."""
    found = _NUMERIC.match(text)
    if found is None:
        return None
    first, second, year = (int(found[part]) for part in ("first", "second", "year"))
    if not (1 <= first <= 12 and 1 <= second <= 12) or first == second or year == 0:
        return None
    by_day, by_month = dt.date(year, second, first).isoformat(), dt.date(year, first, second).isoformat()
    return (
        f"It may be {by_day} (day first) or {by_month} (month first). Write it like {by_day}, "
        f'or declare time_format, like "DD{found["mark"]}MM{found["mark"]}YYYY HH:mm".'
    )


def infer_pattern(texts: Iterable[str]) -> ClockPattern | str | None:
    """Find the pattern that a column makes certain.

    Returns
    -------
    ClockPattern, str or None
        The pattern; or why none is certain; or None where the times are no numeric dates at all.
    """
    seen: dict[str, str] = {}  # "day" or "month" -> a time that must begin with it
    doubtful: re.Match[str] | None = None
    mark = ""
    for given in texts:
        text = " ".join(given.split())
        if _YEAR_FIRST.match(text):
            return _year_first(text)
        found = _NUMERIC.match(text)
        if found is None:
            continue
        if len(found["year"]) != 4:
            return "Write the year in four digits, or declare time_format."
        mark = mark or found["mark"]
        first, second = int(found["first"]), int(found["second"])
        if found["mark"] == "." or first > 12:
            seen.setdefault("day", text)
        elif second > 12:
            seen.setdefault("month", text)
        elif first != second:
            doubtful = doubtful or found
    if len(seen) == 2:
        return f'Day and month change places ("{seen["day"]}" but "{seen["month"]}"). Write them one way.'
    if seen:
        return _loose(next(iter(seen)), mark)
    if doubtful:
        return readings_of(doubtful[0]) or IN_DOUBT
    return _loose("day", mark) if mark else None


def _year_first(text: str) -> ClockPattern:
    mark = re.escape(text[4])
    clock = rf"{_PARTS['H']}:{_PARTS['M']}(?::{_PARTS['S']})?(?:\s?{_PARTS['p']})?"
    date = rf"{_PARTS['Y']}{mark}{_PARTS['m']}{mark}{_PARTS['d']}"
    return ClockPattern(f"YYYY{text[4]}MM{text[4]}DD", re.compile(rf"{date}(?:,?\s|T){clock}\Z", re.ASCII))
