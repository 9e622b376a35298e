"""The breaks as a calendar file that any calendar program reads.

One event for each age of each casting. An event keeps its identity as long as plan title, casting time
and age stay the same, so reading a revised file moves and rewords events instead of doubling them.

References
----------
RFC 5545, iCalendar.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence

from icalendar import Calendar, Event

from planner.laboratory.clock.break_slots import BreakSlot, BreakTimes
from planner.laboratory.clock.opening_hours import is_open_at
from planner.laboratory.clock.strength_windows import StrengthWindow, strength_windows
from planner.laboratory.quantities.register import specimen_labels
from planner.report.accounts.clock.slip_account import moved_words, slip_at, slip_sentence
from planner.report.accounts.clock.window_account import NO_READING, window_words
from planner.report.text.shown_units import in_words
from planner.report.text.words import clean
from planner.terms.labels import age_label, clock_label, digits_label, strength_label
from planner.terms.plan.machine_time import minutes_needed
from planner.terms.plan.settings import Laboratory
from planner.terms.results.age_slips import Slip
from planner.terms.results.waiting import Waiting

PRODUCT = "-//test-age-planner//breaks//EN"
DOMAIN = "test-age-planner"
TITLE_LENGTH = 120
LAST_REVISION = 2**31 - 1  # RFC 5545, 3.3.8
MINUTE, SECOND = "%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S"
ONLY_CASTING = "trial-1"  # what the register calls a casting without a name
TO_RECORD = (
    "Record for each specimen: label, time the load was applied, load or strength, type of fracture, "
    "temperature of the concrete until then. A specimen broken outside its window keeps its actual age."
)
# Some calendar programs show descriptions as hypertext: no sign may open a tag.
_TAG_SIGNS = str.maketrans({"<": "‹", ">": "›"})


def render_calendar(
    castings: Iterable[BreakTimes],
    laboratory: Laboratory,
    *,
    title: str,
    made_at: dt.datetime,
    sequence: int = 0,
    slip: Slip | None = None,
    companions: Sequence[tuple[float, int]] = (),
    waiting: Waiting | None = None,
) -> bytes:
    """Write the breaks of all castings as one calendar file.

    Parameters
    ----------
    castings
        Schedules on the clock.
    laboratory
        Whose age tolerances and form removal the notes speak of.
    title
        Of the plan; part of the events' identity.
    made_at
        When the file is written, with a zone.
    sequence
        Number of this revision, see `next_sequence`.
    slip
        How far each break may slip, where that is known.
    companions
        Ages [h] at which site-cured companions of every trial batch are broken, and how many.
    waiting
        When the strengths that the site waits for are to be expected: a window each, for planning.

    Raises
    ------
    ValueError
        `made_at` has no zone, `sequence` is negative, or one age of one casting time comes twice.
    """
    if made_at.tzinfo is None:
        raise ValueError(f"The time of writing needs a time zone, given {made_at:%Y-%m-%d %H:%M} without one.")
    if sequence < 0:
        raise ValueError(f"The revision of a calendar cannot be negative, given {sequence}.")
    stamp = made_at.astimezone(dt.UTC).replace(microsecond=0)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    seen: set[str] = set()
    for times in castings:
        for slot in times.slots:
            notes = _notes(times, slot, laboratory, slip)
            event = _event(times, slot, title, stamp, sequence, notes)
            if str(event["uid"]) in seen:
                raise ValueError(
                    f"Two castings at {clock_label(times.cast_at, MINUTE)} both break at {age_label(slot.age_h)} "
                    "under one name. Name the castings apart."
                )
            seen.add(str(event["uid"]))
            calendar.add_component(event)
        for age_h, n_specimens in companions:
            calendar.add_component(
                _companions_event(times, age_h, n_specimens, laboratory, title=title, stamp=stamp, sequence=sequence)
            )
        for window in strength_windows(waiting, times):
            calendar.add_component(_window_event(window, title=title, stamp=stamp, sequence=sequence))
    _add_zones(calendar, stamp)
    return bytes(calendar.to_ical())


def next_sequence(previous: bytes | None) -> int:
    """Number the revision that follows an earlier calendar file: one above its highest, 0 for a first one.

    Raises
    ------
    ValueError
        The earlier file is no calendar, or its revision is the last that calendars can count.
    """
    if previous is None:
        return 0
    try:
        events = Calendar.from_ical(previous).walk("VEVENT")
        latest = max((int(event.get("sequence", 0)) for event in events), default=-1)
    except (ValueError, TypeError, AttributeError) as error:
        raise ValueError(
            f"The earlier calendar file cannot be read ({clean(str(error), limit=TITLE_LENGTH)}). "
            "Remove it or write to another folder."
        ) from error
    if not -1 <= latest < LAST_REVISION:
        raise ValueError(
            f"The earlier calendar file is revision {latest}, but calendars count from 0 to {LAST_REVISION}. "
            "Remove it or write to another folder."
        )
    return latest + 1


def event_uid(title: str, casting: str, cast_at: dt.datetime, age_h: float) -> str:
    """Identity of one break: the same for the same plan title, casting and age, on every machine."""
    identity = "\n".join(
        (
            clean(title),
            clean(casting),
            cast_at.astimezone(dt.UTC).isoformat(timespec="seconds"),
            f"{age_h:.4f}",
        )
    )
    return f"{hashlib.sha256(identity.encode()).hexdigest()[:32]}@{DOMAIN}"


def _add_zones(calendar: Calendar, stamp: dt.datetime) -> None:
    """Write out the clock changes from the year before the breaks to the year after them."""
    years = [event.decoded("dtstart").year for event in calendar.walk("VEVENT")] or [stamp.year]
    calendar.add_missing_timezones(first_date=dt.date(min(years) - 1, 1, 1), last_date=dt.date(max(years) + 2, 1, 1))


def _event(
    times: BreakTimes,
    slot: BreakSlot,
    title: str,
    stamp: dt.datetime,
    sequence: int,
    notes: list[str],
) -> Event:
    event = Event()
    event.add("uid", event_uid(title, slot.casting, times.cast_at, slot.age_h))
    event.add("sequence", sequence)
    event.add("dtstamp", stamp)
    _add_times(event, slot.starts_at, slot.ends_at)
    event.add("summary", _summary(slot, title))
    event.add("description", "\n".join(notes))
    return event


def _companions_event(
    times: BreakTimes,
    age_h: float,
    n_specimens: int,
    laboratory: Laboratory,
    *,
    title: str,
    stamp: dt.datetime,
    sequence: int,
) -> Event:
    """Companions of a trial batch, which lie beside the work: the calibration is accepted by them."""
    casting, needed_min = times.slots[0].casting, minutes_needed(n_specimens, laboratory)
    starts_at, ends_at = (
        (times.cast_at.astimezone(dt.UTC) + after).astimezone(times.cast_at.tzinfo)
        for after in (dt.timedelta(hours=age_h), dt.timedelta(hours=age_h, minutes=needed_min))
    )
    names = [name for name in (_inert(title, limit=TITLE_LENGTH), _inert(casting)) if name]
    event = Event()
    event.add("uid", event_uid(title, f"{casting} on site", times.cast_at, age_h))
    event.add("sequence", sequence)
    event.add("dtstamp", stamp)
    _add_times(event, starts_at, ends_at)
    event.add("summary", ": ".join([f"Break {n_specimens} companions on site at {age_label(age_h)}", ", ".join(names)]))
    event.add(
        "description",
        f"Cast {clock_label(times.cast_at, MINUTE)}. Site-cured specimens of the trial batch, which lay beside the "
        f"work with a temperature sensor: the calibration is accepted by them.\n{TO_RECORD}"
        + ("" if is_open_at(starts_at, laboratory) else "\nOutside laboratory hours."),
    )
    return event


def _window_event(window: StrengthWindow, *, title: str, stamp: dt.datetime, sequence: int) -> Event:
    """A strength that is waited for; it takes nobody's time, so that calendars show the hours as free."""
    label = strength_label(window.strength_mpa)
    names = [name for name in (_inert(title, limit=TITLE_LENGTH), _inert(window.casting)) if name]
    event = Event()
    identity = f"{window.casting} {window.strength_mpa:.6g} MPa"
    event.add("uid", event_uid(title, identity, window.cast_at, 0.0))
    event.add("sequence", sequence)
    event.add("dtstamp", stamp)
    _add_times(event, window.opens_at, window.closes_at)
    event.add("transp", "TRANSPARENT")
    event.add("summary", in_words(": ".join([f"{label} to be expected", ", ".join(names)][: 1 + bool(names)])))
    event.add(
        "description",
        in_words(
            f"Concrete cast {clock_label(window.cast_at, MINUTE)}. {window_words(window)}\n{NO_READING} The curve is "
            "read at the pour's own temperatures before anything is decided."
        ),
    )
    return event


def _add_times(event: Event, starts_at: dt.datetime, ends_at: dt.datetime) -> None:
    """Write both ends in the laboratory's zone; in UTC where one has the later offset of an hour that comes twice.

    A local time in that hour is read as the earlier one (RFC 5545, 3.3.5).
    """
    is_later = any(at.fold and at.utcoffset() != at.replace(fold=0).utcoffset() for at in (starts_at, ends_at))
    for name, at in (("dtstart", starts_at), ("dtend", ends_at)):
        event.add(name, at.astimezone(dt.UTC) if is_later else at)


def _summary(slot: BreakSlot, title: str) -> str:
    specimens = "1 specimen" if slot.n_specimens == 1 else f"{slot.n_specimens} specimens"
    what = f"Break {specimens} at {age_label(slot.age_h)}"
    names = [name for name in (_inert(title, limit=TITLE_LENGTH), _inert(slot.casting)) if name]
    return f"{what}: {', '.join(names)}" if names else what


def _notes(times: BreakTimes, slot: BreakSlot, laboratory: Laboratory, slip: Slip | None) -> list[str]:
    labels = specimen_labels(slot.age_h, slot.n_specimens, casting=_inert(slot.casting) or ONLY_CASTING)
    notes = [
        f"Cast {clock_label(times.cast_at, MINUTE)}, "
        f"age {age_label(slot.age_h)} at {clock_label(slot.due_at, MINUTE)}.",
        f"Permitted window {clock_label(slot.earliest_at, SECOND)} to {clock_label(slot.latest_at, SECOND)} "
        f"({_inert(laboratory.age_tolerances)}).",
        f"Specimens: {', '.join(labels)}.",
        TO_RECORD,
    ]
    item = slip_at(slip, slot.age_h)
    if slip is not None and item is not None:
        notes.insert(2, slip_sentence(slip, item))
    if slot.is_moved:
        notes.insert(2, f"M{moved_words(slot)[1:]}, its nominal age.")
    if not slot.is_inside_hours:
        notes.append("Outside laboratory hours.")
    if not slot.fits_window:
        notes.append(
            f"The specimens take {slot.minutes_needed:g} minutes, the window has "
            f"{digits_label(slot.window_minutes, 3)}: record the actual age of each."
        )
    if slot.is_before_form_removal:
        notes.append(f"Before the forms may be removed at {laboratory.form_removal_h:g} h.")
    return notes


def _inert(text: str, *, limit: int | None = None) -> str:
    return clean(text, limit=limit).translate(_TAG_SIGNS)
