"""The units that a reader asked for: the one place where figures with units are turned from SI into US units.

Everything is worked out and worded in MPa, kN, degrees C, mm and litres. What leaves through the reporting door in
`[output] units = "US"` has its quantities exchanged here, sentences and cells alike; JSON documents never pass here.
A strength is shown to 10 psi, a temperature with the decimals it had. The reader's own words, like a title
"30 MPa slab", stay as they were written.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from planner.terms.plan.shown_as import ShownAs
from planner.units import (
    cubic_feet_from_litres,
    fahrenheit_from_celsius,
    inches_from_mm,
    lbf_from_kn,
    pcf_from_kg_per_m3,
    psi_from_mpa,
)

SI = ShownAs()
_SHOWN: ContextVar[ShownAs] = ContextVar("shown_as", default=SI)

STRENGTH_STEP_PSI = 10.0
NEAR_NOMINAL = 0.025  # a 100 mm cylinder is the trade's 4 in cylinder
_NUMBER = r"[+-]?\d+(?:,\d{3})*(?:\.\d+)?"
_SERIES = rf"{_NUMBER}(?:(?:, | to | and |, and | or |–){_NUMBER})*"
_LETTER_AFTER = r"(?![A-Za-z0-9/])"
_SIZES = re.compile(rf"\d+(?:\.\d+)?(?:[x×]\d+(?:\.\d+)?)+[ \xa0]mm{_LETTER_AFTER}")
_DATUM_SUM = re.compile(rf"T - \(({_NUMBER})\)\) dt in C h")


def are_shown_in_us() -> bool:
    """Whether the reader asked for psi, F, in and ft3."""
    return _SHOWN.get().units == "US"


@contextmanager
def shown_in(shown: ShownAs) -> Iterator[None]:
    """Whatever is written inside is shown in these units; words of the reader's own that hold a quantity stay."""
    kept = tuple(word for word in map(_tidy, shown.own_words) if _exchanged_in(word) != word)
    before = _SHOWN.set(ShownAs(units=shown.units, own_words=kept))
    try:
        yield
    finally:
        _SHOWN.reset(before)


def strength_shown(mpa: float, *, is_safe: bool = False) -> float:
    """A strength in psi, to 10 psi; a safe one is rounded down."""
    step = STRENGTH_STEP_PSI
    psi = psi_from_mpa(mpa)
    return (math.floor(psi / step + 1e-9) if is_safe else round(psi / step)) * step


def _same_places(convert: Callable[[float], float]) -> Callable[[str], str]:
    def shown(number: str) -> str:
        digits = number.replace(",", "")
        places = len(digits.partition(".")[2])
        sign = "+" if digits.startswith("+") else ""
        return f"{convert(float(digits)):{sign},.{places}f}"

    return shown


def _psi(number: str) -> str:
    return f"{strength_shown(float(number.replace(',', ''))):,.0f}"


def _safe_psi(number: str) -> str:
    return f"{strength_shown(float(number.replace(',', '')), is_safe=True):,.0f}"


def _lbf(number: str) -> str:
    return f"{round(lbf_from_kn(float(number.replace(',', ''))), -2):,.0f}"


def _inches(number: str) -> str:
    given = inches_from_mm(float(number.replace(",", "")))
    nominal = round(2.0 * given) / 2.0
    return f"{nominal:g}" if nominal and abs(given / nominal - 1.0) <= NEAR_NOMINAL else f"{given:.2f}"


def _cubic_feet(number: str) -> str:
    return f"{cubic_feet_from_litres(float(number.replace(',', ''))):,.2f}"


_INTERVAL = _same_places(lambda kelvin: 1.8 * kelvin)
_FAHRENHEIT = _same_places(fahrenheit_from_celsius)
_PCF = _same_places(pcf_from_kg_per_m3)
# unit as it is worded, unit shown, how a number is shown; the longer name of two goes first
_UNITS: tuple[tuple[str, str, Callable[[str], str]], ...] = (
    ("MPa", "psi", _psi),
    ("kN", "lbf", _lbf),
    ("C h", "F h", _INTERVAL),
    ("°C", "°F", _FAHRENHEIT),
    ("degrees C", "degrees F", _FAHRENHEIT),
    ("C", "F", _FAHRENHEIT),
    ("mm", "in", _inches),
    ("L", "ft3", _cubic_feet),
    ("kg/m3", "lb/ft3", _PCF),
)
_QUANTITIES = tuple(
    (re.compile(rf"(?<![\w.])({_SERIES})(\xa0| ){re.escape(unit)}{_LETTER_AFTER}"), shown, number)
    for unit, shown, number in _UNITS
)
_SAFE_READING = re.compile(rf"(?<=safe reading )({_NUMBER})(\xa0| )MPa{_LETTER_AFTER}")
_KELVIN_STEPS = re.compile(rf"(?<![\w.])({_NUMBER}) K{_LETTER_AFTER}")
LARGEST_STEP_K = 100.0  # more kelvin are a Q, not a difference of temperatures
_END = r"(?=$|[\s,.;:)])"
_BARE = (
    *((re.compile(rf"(?<=[ ,]){re.escape(unit)}{_END}"), shown) for unit, shown, _ in _UNITS[:4]),
    (re.compile(rf"(?<=temperature, )C{_END}"), "F"),
)
_OWN_MARK = "\ue000"  # stands for a word of the reader's own while the rest is turned
_BLANK = r"[ \xa0]"
_BARE_QUANTITY = re.compile(
    rf"{_NUMBER} ?\S{{1,4}}"
)  # a name that is nothing but a quantity stays where it stands alone
_HEADING = re.compile(r"^(?:(?P<name>.*),[ \xa0])?(?P<unit>MPa|kN|C h|°C|C|mm|L|kg/m3)$", re.DOTALL)


def in_words(text: str) -> str:
    """A sentence, a heading or a cell with every quantity in the units asked for, but for the reader's own words."""
    if not are_shown_in_us():
        return text
    words = _SHOWN.get().own_words
    if not words:
        return _exchanged_in(text)
    tidy = _tidy(text)
    if any(tidy == word or (tidy.endswith("…") and word.startswith(tidy[:-1])) for word in words):
        return text
    found = [word for word in words if _BARE_QUANTITY.fullmatch(word) is None]
    pattern = re.compile("|".join(re.escape(word).replace(r"\ ", _BLANK) for word in found)) if found else None
    if pattern is None:
        return _exchanged_in(text)
    own = pattern.findall(text)
    parts = iter(own)
    turned = _exchanged_in(pattern.sub(_OWN_MARK, text))
    return re.sub(_OWN_MARK, lambda _: next(parts), turned)


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _exchanged_in(text: str) -> str:
    text = _DATUM_SUM.sub(lambda found: f"T - ({_FAHRENHEIT(found[1])})) dt in F h", text)
    text = _SIZES.sub(lambda found: f"{re.sub(_NUMBER, lambda one: _inches(one[0]), found[0][:-2])}in", text)
    text = _SAFE_READING.sub(lambda found: f"{_safe_psi(found[1])}{found[2]}psi", text)
    for pattern, unit, number in _QUANTITIES:
        text = pattern.sub(lambda found, unit=unit, number=number: _exchanged(found, unit, number), text)  # type: ignore[misc]
    text = _KELVIN_STEPS.sub(_step, text)
    for pattern, unit in _BARE:
        text = pattern.sub(unit, text)
    return text


def _exchanged(found: re.Match[str], unit: str, number: Callable[[str], str]) -> str:
    return f"{re.sub(_NUMBER, lambda one: number(one[0]), found[1])}{found[2]}{unit}"


def _step(found: re.Match[str]) -> str:
    is_step = float(found[1].replace(",", "")) < LARGEST_STEP_K
    return f"{_INTERVAL(found[1])} F" if is_step else found[0]


def column_in(heading: str) -> tuple[str, Callable[[str], str]]:
    """A heading like ``read, MPa`` in the units asked for, and what turns a cell below it."""
    match = _HEADING.match(heading) if are_shown_in_us() else None
    if match is None:
        return in_words(heading), in_words
    unit, number = next((shown, number) for name, shown, number in _UNITS if name == match["unit"])
    if number is _psi and "safe" in heading.lower():
        number = _safe_psi
    name = "" if match["name"] is None else f"{in_words(match['name'])}, "
    return f"{name}{unit}", lambda cell: re.sub(rf"(?<![\w.]){_NUMBER}", lambda one: number(one[0]), cell)
