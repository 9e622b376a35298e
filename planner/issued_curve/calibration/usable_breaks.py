"""Breaks after the plan, each with a maturity: which can be used, and what has to be said of the others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.maturity import constant_maturity
from planner.terms.labels import age_label, percent
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, GivenRecords

AGREES_WITHIN = 0.05  # a maturity given and that of the record; common practice, no source
READ = ("standard", "site")  # curings that fit a curve and that check it


@dataclass(frozen=True, slots=True, kw_only=True)
class UsableBreaks:
    """Breaks of which each has a maturity, and what was noticed about the rest."""

    breaks: tuple[Break, ...]
    cautions: tuple[Caution, ...]

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
    lost = sorted({item.curing for item in given.records.breaks if item.curing not in READ})
    cautions: list[Caution] = []
    if lost:
        cautions.append(
            Caution(
                "curing-not-used",
                f"Breaks of {given.file} cured otherwise than standard or on site are not used ({', '.join(lost)}).",
            )
        )
    if setting.method != "age":
        cautions += _differing(used, break_maturity, setting)
        used = _timed(used, given, break_maturity, setting, standard_c, cautions)
    return UsableBreaks(breaks=tuple(used), cautions=tuple(cautions))


def _differing(breaks: Sequence[Break], break_maturity: BreakMaturity, setting: MaturitySetting) -> Iterator[Caution]:
    """Maturities written in the file beside the temperature record, which goes second."""
    _, per_hour = maturity_unit(setting)
    differing: dict[tuple[str, str, float], str] = {}
    for item in breaks:
        record = break_maturity.record_for(item)
        if item.maturity is None or record is None or item.tested_h > float(record.elapsed_h[-1]):
            continue
        recorded = per_hour * float(break_maturity.cell_maturity([item], (setting,))[0])
        if abs(item.maturity / recorded - 1.0) > AGREES_WITHIN:
            differing.setdefault(
                (item.batch, item.curing, item.age_h),
                f"{item.batch} {item.curing} at {age_label(item.age_h)} {item.maturity:.4g} (record {recorded:.4g})",
            )
    if differing:
        listed = [*differing.values()]
        more = f" and {len(listed) - 4} more" if len(listed) > 4 else ""
        yield Caution(
            "maturity-differs",
            f"Maturities given differ by more than {percent(AGREES_WITHIN, digits=0)} from those of the temperature "
            f"records; the given ones count: {', '.join(listed[:4])}{more}. See whether the logger was set to the "
            "curve's maturity function, or leave the maturity empty.",
        )


def _timed(
    breaks: Sequence[Break],
    given: GivenRecords,
    break_maturity: BreakMaturity,
    setting: MaturitySetting,
    standard_c: float | None,
    cautions: list[Caution],
) -> list[Break]:
    without = [item for item in breaks if item.maturity is None and not break_maturity.has_maturity(item)]
    if not without:
        return list(breaks)
    if standard_c is None:
        raise InputError(
            Problem(
                given.file,
                f'The {item.curing}-cured break of "{item.batch}" has no maturity. Give temperatures, a maturity '
                "column, or [prior] standard_curing_c in the plan.",
                row=item.row,
            )
            for item in without
        )
    _, per_hour = maturity_unit(setting)
    names = sorted({item.batch for item in without})
    cautions.append(
        Caution(
            "no-temperature-on-site",
            f"The site-cured breaks of {', '.join(names)} have no temperature record and no maturity: they are read "
            f"as if kept at {standard_c:g} C. On a colder site the curve then reads too much for them; give "
            "--temperatures or a maturity column.",
        )
    )
    return [
        replace(item, maturity=per_hour * float(constant_maturity(np.array(item.tested_h), standard_c, setting)))
        if item in without
        else item
        for item in breaks
    ]
