"""Every specimen of the programme in one row: what the specimens and the breaks sheet are both made from."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import count, islice

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.quantities.register import RegisterEntry, specimens_register
from planner.report.accounts.clock.slip_account import moved_words, slip_at
from planner.terms.labels import age_label
from planner.terms.plan.settings import ProgrammeSettings, Settings
from planner.terms.plan.tolerances import permitted_window_h
from planner.terms.results.age_slips import BreakSlip
from planner.terms.results.recommended.recommendation import Recommendation

SITE_COMPANION = "site companion"  # of a trial batch

_CYLINDER = re.compile(r"cylinder (\d+(?:\.\d+)?)x\d+(?:\.\d+)? mm")
_CUBE = re.compile(r"cube (\d+(?:\.\d+)?)(?:x\d+(?:\.\d+)?)* mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenRow:
    """One specimen with everything known before it is made."""

    label: str
    batch: str
    purpose: str  # "break", "spare", "instrumented", "site companion", "companion"
    curing: str
    age_h: float | None
    due_at: dt.datetime | None  # planned start if moved; local time with its zone, as both limits
    earliest_at: dt.datetime | None
    latest_at: dt.datetime | None
    earliest_h: float | None
    latest_h: float | None
    slip: BreakSlip | None = None  # how far the break may slip
    moved: str = ""  # from where it was moved into laboratory hours

    @property
    def is_broken(self) -> bool:
        return self.purpose != "instrumented"


def programme_rows(
    advice: Recommendation, settings: Settings, castings: Sequence[BreakTimes]
) -> tuple[SpecimenRow, ...]:
    """List the specimens of all trial batches with their companions on site, then the companions of the site checks."""
    programme = settings.programme_asked
    names = batch_names(programme, castings, taken=earlier_batches(advice))
    entries = specimens_register(advice.recommended.schedule, programme, castings=names)
    times = dict(zip(names, castings, strict=False))
    rows = [_row(entry, settings, times.get(entry.casting), advice) for entry in entries]
    beside = [row for name in names for row in _site_companions(name, advice, programme, times.get(name))]
    return (*rows, *beside, *_companions(programme))


def batch_names(
    programme: ProgrammeSettings, castings: Sequence[BreakTimes], *, taken: Collection[str] = ()
) -> tuple[str, ...]:
    """A name for each trial batch, to be replaced by the laboratory's own: the first free ones.

    Parameters
    ----------
    taken
        Names of batches in the records: a second calibration does not bear the names of the first.
    """
    n_batches = max(programme.trial_batches, len(castings))
    free = (name for place in count(1) if (name := f"trial-{place}") not in taken)
    return tuple(islice(free, n_batches))


def earlier_batches(advice: Recommendation) -> frozenset[str]:
    """Names of the batches that the recommendation knows."""
    return frozenset(
        {point.batch for point in advice.growth} | {batch for batch, _ in advice.evidence.checked_by_batch}
    )


def pressed_area_mm2(geometry: str) -> float | None:
    """Area that the testing machine acts on, where the geometry tells it."""
    cylinder = _CYLINDER.fullmatch(geometry.strip().lower())
    if cylinder:
        return math.pi / 4.0 * float(cylinder[1]) ** 2
    cube = _CUBE.fullmatch(geometry.strip().lower())
    return float(cube[1]) ** 2 if cube else None


def _row(entry: RegisterEntry, settings: Settings, times: BreakTimes | None, advice: Recommendation) -> SpecimenRow:
    slots = {slot.age_h: slot for slot in times.slots} if times is not None else {}
    slot = slots.get(entry.age_h) if entry.age_h is not None else None
    earliest_h, latest_h = _window(entry.age_h, settings)
    return SpecimenRow(
        label=entry.label,
        batch=entry.casting,
        purpose=entry.purpose,
        curing="standard",
        age_h=entry.age_h,
        due_at=(slot.starts_at if slot.is_moved else slot.due_at) if slot else None,
        earliest_at=slot.earliest_at if slot else None,
        latest_at=slot.latest_at if slot else None,
        earliest_h=earliest_h,
        latest_h=latest_h,
        slip=None if entry.age_h is None else slip_at(advice.slip, entry.age_h),
        moved="" if slot is None else moved_words(slot),
    )


def _site_companions(
    batch: str, advice: Recommendation, programme: ProgrammeSettings, times: BreakTimes | None
) -> list[SpecimenRow]:
    """Companions of one trial batch at every target: the calibration is accepted by them; counted and priced."""
    return [
        SpecimenRow(
            label=f"{batch}-site-{age_label(age_h).replace(' ', '')}-{number}",
            batch=batch,
            purpose=SITE_COMPANION,
            curing="site",
            age_h=age_h,
            due_at=None if times is None else _wall_clock(times.cast_at, age_h),
            earliest_at=None,
            latest_at=None,
            earliest_h=None,
            latest_h=None,
            moved="accepts the calibration; cured beside the work, broken at the target",
        )
        for age_h in advice.target_ages_h
        for number in range(1, programme.companions_per_check + 1)
    ]


def _wall_clock(cast_at: dt.datetime, age_h: float) -> dt.datetime:
    """The moment of an age in the casting's own zone; a change of the clocks in between is kept."""
    return (cast_at.astimezone(dt.UTC) + dt.timedelta(hours=age_h)).astimezone(cast_at.tzinfo)


def _window(age_h: float | None, settings: Settings) -> tuple[float | None, float | None]:
    if age_h is None:
        return None, None
    try:
        return permitted_window_h(age_h, standard=settings.laboratory_taken.age_tolerances)
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
