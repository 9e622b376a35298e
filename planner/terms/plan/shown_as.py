"""How an answer is shown: the units asked for, and the reader's own words, in which no quantity is exchanged."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # a notebook that imports the program loads no arrays for it
    from planner.terms.plan.settings import OutputUnits, Settings
    from planner.terms.records import Records


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownAs:
    """Units of screens, pages and sheets, with what stays as it was written."""

    units: OutputUnits = "SI"
    own_words: tuple[str, ...] = ()  # title, names of mixes and batches, as plan and tables give them


def shown_together(several: Iterable[ShownAs]) -> ShownAs:
    """How a table of many plans is shown: in US units where all of them ask for these."""
    listed = tuple(several)
    if not listed or any(item.units == "SI" for item in listed):
        return ShownAs()
    return ShownAs(units="US", own_words=tuple(word for item in listed for word in item.own_words))


def shown_as(settings: Settings, *given: Records) -> ShownAs:
    """What a plan asks for.

    Parameters
    ----------
    settings
        Of the plan: title, mix, names of prices and standards are the user's own words.
    given
        Records whose batches, mixes, placements and labels are too.
    """
    if settings.output_units == "SI":
        return ShownAs()
    words = {settings.title, settings.mix_name}
    if settings.costs is not None:
        words |= {settings.costs.currency, *(item.name for item in settings.costs.other)}
    if settings.laboratory is not None:
        words.add(settings.laboratory.age_tolerances)
    for records in given:
        for item in (*records.breaks, *records.voided):
            words |= {item.batch, item.mix, item.placement, item.specimen, item.void}
    return ShownAs(
        units=settings.output_units, own_words=tuple(sorted(words - {""}, key=lambda word: (-len(word), word)))
    )
