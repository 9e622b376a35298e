"""Every specimen of the programme in one row: what the specimens and the breaks sheet are both made from."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from planner.laboratory.break_times import BreakTimes
from planner.laboratory.register import RegisterEntry, specimens_register
from planner.report.accounts.slip_account import moved_words, slip_at
from planner.terms.age_slips import BreakSlip
from planner.terms.recommendation import Recommendation
from planner.terms.settings import ProgrammeSettings, Settings
from planner.terms.tolerances import permitted_window_h

_CYLINDER = re.compile(r"cylinder (\d+(?:\.\d+)?)x\d+(?:\.\d+)? mm")
_CUBE = re.compile(r"cube (\d+(?:\.\d+)?)(?:x\d+(?:\.\d+)?)* mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenRow:
    """One specimen with everything known before it is made."""

    label: str
    batch: str
    purpose: str  # "break", "spare", "instrumented", "companion"
    curing: str
    age_h: float | None
    due_at: dt.datetime | None  # planned start if moved; local time, without a zone: spreadsheets know none
    earliest_at: dt.datetime | None
    latest_at: dt.datetime | None
    earliest_h: float | None
    latest_h: float | None
    slip: BreakSlip | None = None  # how far the break may slip
    moved: str = ""  # from where it was moved into laboratory hours

    @property
    def is_broken(self) -> bool:
        return self.purpose != "instrumented"


def programme_rows(told: Recommendation, settings: Settings, castings: Sequence[BreakTimes]) -> tuple[SpecimenRow, ...]:
    """List the specimens of all trial batches, then the companions of the site checks."""
    programme = settings.programme_asked
    names = batch_names(programme, castings)
    entries = specimens_register(told.recommended.schedule, programme, castings=names)
    times = dict(zip(names, castings, strict=False))
    rows = [_row(entry, settings, times.get(entry.casting), told) for entry in entries]
    return (*rows, *_companions(programme))


def batch_names(programme: ProgrammeSettings, castings: Sequence[BreakTimes]) -> tuple[str, ...]:
    """A name for each trial batch, to be replaced by the laboratory's own."""
    n_batches = max(programme.trial_batches, len(castings))
    return tuple(f"trial-{place}" for place in range(1, n_batches + 1))


def pressed_area_mm2(geometry: str) -> float | None:
    """Area that the press acts on, where the geometry tells it."""
    cylinder = _CYLINDER.fullmatch(geometry.strip().lower())
    if cylinder:
        return math.pi / 4.0 * float(cylinder[1]) ** 2
    cube = _CUBE.fullmatch(geometry.strip().lower())
    return float(cube[1]) ** 2 if cube else None


def _row(entry: RegisterEntry, settings: Settings, times: BreakTimes | None, told: Recommendation) -> SpecimenRow:
    slots = {slot.age_h: slot for slot in times.slots} if times is not None else {}
    slot = slots.get(entry.age_h) if entry.age_h is not None else None
    earliest_h, latest_h = _window(entry.age_h, settings)
    return SpecimenRow(
        label=entry.label,
        batch=entry.casting,
        purpose=entry.purpose,
        curing="standard",
        age_h=entry.age_h,
        due_at=(slot.starts_at if slot.is_moved else slot.due_at).replace(tzinfo=None) if slot else None,
        earliest_at=slot.earliest_at.replace(tzinfo=None) if slot else None,
        latest_at=slot.latest_at.replace(tzinfo=None) if slot else None,
        earliest_h=earliest_h,
        latest_h=latest_h,
        slip=None if entry.age_h is None else slip_at(told.slip, entry.age_h),
        moved="" if slot is None else moved_words(slot),
    )


def _window(age_h: float | None, settings: Settings) -> tuple[float | None, float | None]:
    if age_h is None:
        return None, None
    standard = settings.laboratory.age_tolerances if settings.laboratory else "ASTM C39"
    try:
        return permitted_window_h(age_h, standard=standard)
    except ValueError:  # the limits do not cover this age: nothing is claimed
        return None, None


def _companions(programme: ProgrammeSettings) -> tuple[SpecimenRow, ...]:
    return tuple(
        SpecimenRow(
            label=f"check-{check}-{number}",
            batch=f"pour-{check}",
            purpose="companion",
            curing="site",
            age_h=None,
            due_at=None,
            earliest_at=None,
            latest_at=None,
            earliest_h=None,
            latest_h=None,
        )
        for check in range(1, programme.n_checks + 1)
        for number in range(1, programme.companions_per_check + 1)
    )
