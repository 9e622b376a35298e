"""When the strengths that the site waits for are to be expected, on the clock, in words."""

from __future__ import annotations

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.strength_windows import StrengthWindow, strength_windows
from planner.terms.labels import clock_label, strength_label
from planner.terms.results.waiting import Wait, Waiting

NO_READING = "To plan who comes in when; it is no reading of a pour."
WHEN = "%a %Y-%m-%d %H:%M"


def expected_words(answer: Waiting | None, times: BreakTimes) -> tuple[str, ...]:
    """A line for every strength that is waited for, and what the lines are for; nothing where none is."""
    if answer is None:
        return ()
    windows = {window.strength_mpa: window for window in strength_windows(answer, times)}
    lines = tuple(
        window_words(windows[wait.strength_mpa]) if wait.strength_mpa in windows else _undated_words(wait)
        for wait in answer.waits
    )
    return (*lines, NO_READING)


def window_words(window: StrengthWindow) -> str:
    """``15 MPa: from Mon 2027-03-01 13:10 (earliest, concrete at 32 C) to ... (safe, concrete at 8 C)``."""
    opens, closes = clock_label(window.opens_at, WHEN), clock_label(window.closes_at, WHEN)
    text = (
        f"{strength_label(window.strength_mpa)}: from {opens} ({window.opening}, concrete at {window.warmest_c:g} C) "
        f"to {closes} ({window.closing}, concrete at {window.coolest_c:g} C)."
    )
    if window.opening == "first break age":
        text += " Stronger pours may have it before the first break age; the curve tells nothing of that."
    if window.closing == "likely" and window.is_promised:
        text += " Its safe hour comes after the last break age."
    return text


def _undated_words(wait: Wait) -> str:
    label = strength_label(wait.strength_mpa)
    if all(at.likely_h is None for at in wait.hours):
        return f"{label}: not dated, its hours lie outside the recommended break ages."
    still = ", ".join(f"{at.temperature_c:g} C" for at in wait.hours if at.likely_h is None)
    return f"{label}: not dated, by the recommended constant concrete at {still} never gains it."
