"""Breaks after the plan, each with a maturity: which can be used."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.maturity import constant_maturity
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import InputError, Problem
from planner.terms.records import Break, GivenRecords

AGREES_WITHIN = 0.05  # a maturity given and that of the record; common practice, no source
READ = ("standard", "site")  # curings that fit a curve and that check it


@dataclass(frozen=True, slots=True)
class DifferingMaturity:
    """A maturity given for specimens whose temperature record says another; in the unit of the setting."""

    batch: str
    curing: str
    age_h: float
    given: float
    recorded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UsableBreaks:
    """Breaks of which each has a maturity, and what is to be said of the rest."""

    file: str
    breaks: tuple[Break, ...]
    unused_curings: tuple[str, ...]  # of breaks that fit no curve and check none
    assumed: tuple[str, ...]  # batches of site-cured breaks without a temperature, taken as kept at `assumed_c`
    assumed_c: float | None  # temperature of standard curing
    differing: tuple[DifferingMaturity, ...]  # the given ones count

    @property
    def batches(self) -> tuple[str, ...]:
        """In order of first appearance."""
        return tuple(dict.fromkeys(item.batch for item in self.breaks))


def usable_breaks(
    given: GivenRecords, break_maturity: BreakMaturity, setting: MaturitySetting, *, standard_c: float | None
) -> UsableBreaks:
    """Give every standard-cured and site-cured break a maturity.

    A maturity in the file goes first, then the temperature record. Site-cured breaks without either are taken as
    kept at the temperature of standard curing, and that is said.

    Raises
    ------
    InputError
        Where breaks have no maturity at all.
    """
    used = [item for item in given.records.breaks if item.curing in READ]
    is_by_age = setting.method == "age"
    without = [] if is_by_age else [item for item in used if _is_without(item, break_maturity)]
    return UsableBreaks(
        file=given.file,
        breaks=tuple(_timed(used, without, given.file, setting, standard_c) if without else used),
        unused_curings=tuple(sorted({item.curing for item in given.records.breaks if item.curing not in READ})),
        assumed=tuple(sorted({item.batch for item in without})),
        assumed_c=standard_c,
        differing=() if is_by_age else tuple(_differing(used, break_maturity, setting)),
    )


def _is_without(item: Break, break_maturity: BreakMaturity) -> bool:
    return item.maturity is None and not break_maturity.has_maturity(item)


def _differing(
    breaks: Sequence[Break], break_maturity: BreakMaturity, setting: MaturitySetting
) -> Iterator[DifferingMaturity]:
    """Maturities written in the file beside the temperature record, which goes second; one for each cell."""
    _, per_hour = maturity_unit(setting)
    known: set[tuple[str, str, float]] = set()
    for item in breaks:
        record, cell = break_maturity.record_for(item), (item.batch, item.curing, item.age_h)
        if item.maturity is None or record is None or item.tested_h > float(record.elapsed_h[-1]) or cell in known:
            continue
        recorded = per_hour * float(break_maturity.cell_maturity([item], (setting,))[0])
        if abs(item.maturity / recorded - 1.0) > AGREES_WITHIN:
            known.add(cell)
            yield DifferingMaturity(*cell, given=item.maturity, recorded=recorded)


def _timed(
    breaks: Sequence[Break],
    without: Sequence[Break],
    file: str,
    setting: MaturitySetting,
    standard_c: float | None,
) -> list[Break]:
    """The breaks, those without a maturity as if kept at the temperature of standard curing."""
    if standard_c is None:
        raise InputError(
            Problem(
                file,
                f'The {item.curing}-cured break of "{item.batch}" has no maturity. Give temperatures, a maturity '
                "column, or [prior] standard_curing_c in the plan.",
                row=item.row,
            )
            for item in without
        )
    _, per_hour = maturity_unit(setting)
    return [
        replace(item, maturity=per_hour * float(constant_maturity(np.array(item.tested_h), standard_c, setting)))
        if item in without
        else item
        for item in breaks
    ]
