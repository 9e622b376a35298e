"""A label for every specimen that will be cast, so that no two can be mistaken for each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.laboratory.quantities.programme_totals import n_spares_for
from planner.terms.labels import age_label
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.schedule import Schedule

Purpose = Literal["break", "spare", "instrumented"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterEntry:
    """One specimen to be made."""

    label: str
    casting: str  # which trial batch
    purpose: Purpose
    age_h: float | None  # None where it is not broken at an age of the schedule


def specimen_labels(age_h: float, n_specimens: int, *, casting: str = "") -> tuple[str, ...]:
    """Label the replicates of one age: ``6h-1``, ``6h-2``, or ``A-6h-1`` where the casting has a name."""
    stem = age_label(age_h).replace(" ", "")
    return tuple(_label(casting, stem, number) for number in range(1, n_specimens + 1))


def specimens_register(
    schedule: Schedule, programme: ProgrammeSettings, *, castings: tuple[str, ...] = ("",)
) -> tuple[RegisterEntry, ...]:
    """List every specimen of the trial batches, casting by casting, youngest age first.

    Parameters
    ----------
    castings
        A name for each trial batch, all different.

    Raises
    ------
    ValueError
        Two castings bear one name.
    """
    twice = sorted({name for name in castings if castings.count(name) > 1})
    if twice:
        raise ValueError(f'Castings need different names, but "{", ".join(twice)}" is given more than once.')
    return tuple(entry for casting in castings for entry in _of_one_casting(schedule, programme, casting))


def _of_one_casting(schedule: Schedule, programme: ProgrammeSettings, casting: str) -> tuple[RegisterEntry, ...]:
    breaks = [
        RegisterEntry(label=label, casting=casting, purpose="break", age_h=age_h)
        for age_h, count in zip(schedule.ages_h, schedule.specimens, strict=True)
        for label in specimen_labels(age_h, count, casting=casting)
    ]
    n_spares = n_spares_for(schedule.n_specimens, programme)
    spares = [_unbroken(casting, "spare", number) for number in range(1, n_spares + 1)]
    instrumented = [_unbroken(casting, "instrumented", n) for n in range(1, programme.instrumented + 1)]
    return (*breaks, *spares, *instrumented)


def _unbroken(casting: str, purpose: Purpose, number: int) -> RegisterEntry:
    return RegisterEntry(label=_label(casting, purpose, number), casting=casting, purpose=purpose, age_h=None)


def _label(casting: str, stem: str, number: int) -> str:
    return f"{casting}-{stem}-{number}" if casting else f"{stem}-{number}"
