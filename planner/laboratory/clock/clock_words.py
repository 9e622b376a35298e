"""What is said of breaks on the clock."""

from __future__ import annotations

from planner.laboratory.clock.break_slots import BreakSlot
from planner.terms.plan.settings import Laboratory


def no_laboratory(limits: str) -> str:
    """What is taken where the plan names no laboratory, with its age tolerances."""
    return (
        f"The plan names no laboratory: times are UTC, breaks may be off their age as {limits} allows, and none counts "
        "as outside hours. State [laboratory] time_zone, age_tolerances, open and days."
    )


def clock_warnings(slots: tuple[BreakSlot, ...], laboratory: Laboratory) -> tuple[str, ...]:
    """Breaks that do not fit their window, run past the hours or come before the forms are off."""
    texts = [
        f"At {slot.age_h:g} h {slot.n_specimens} specimens take {slot.minutes_needed:g} minutes, but "
        f"{laboratory.age_tolerances} leaves {slot.window_minutes:g}. Use more machines, fewer specimens or "
        "record the actual age of each."
        for slot in slots
        if not slot.fits_window
    ]
    texts += [
        f"At {slot.age_h:g} h {slot.n_specimens} specimens take {slot.minutes_needed:g} minutes, which runs "
        "past the laboratory's hours and is an attendance outside them. Cast a little earlier or later."
        for slot in slots
        if slot.runs_past_hours
    ]
    texts += [
        f"The break at {slot.age_h:g} h comes before the forms may be removed at "
        f"{laboratory.form_removal_h:g} h. Leave the age out or ask for earlier removal."
        for slot in slots
        if slot.is_before_form_removal
    ]
    return tuple(texts)
