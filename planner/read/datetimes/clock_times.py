"""Clock times as people and loggers write them, into instants.

An instant is a whole number of microseconds since 1970-01-01 00:00 UTC, so that differences are exact.
"""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.read.datetimes.clock_formats import IN_DOUBT, ClockPattern, infer_pattern, readings_of
from planner.read.parsing.findings import Findings, shown
from planner.read.tabular.cell_table import Cell, Table, is_blank
from planner.terms.arrays import BoolArray, IntArray

DOUBTFUL = ("It may be", IN_DOUBT)  # what a reason about one cell of the column begins with
NOT_A_TIME = int(np.iinfo(np.int64).min)
US_PER_HOUR = 3_600_000_000
QUARTER_US = US_PER_HOUR // 4  # zones change their offset at whole quarters of an hour
EPOCH = dt.datetime(1970, 1, 1)
EARLIEST_YEAR, LATEST_YEAR = 1970, 2200
_EARLIEST_US = 0
_LATEST_US = (dt.datetime(LATEST_YEAR, 1, 1) - EPOCH) // dt.timedelta(microseconds=1)
_TEN_MS = 10_000
_ISO_LETTERS = frozenset("0123456789-:T .")
SHORTEST_ISO = 12  # characters; a date alone has at most ten


@dataclass(frozen=True, slots=True, eq=False)
class ClockTimes:
    """A column of clock times: what stands there, and which of it names its own offset."""

    local_us: IntArray  # microseconds since 1970-01-01 00:00 on the clock read; NOT_A_TIME where there is none
    is_absolute: BoolArray  # the time named its offset, so local_us is in UTC already


def clock_column(
    table: Table,
    cells: Sequence[Cell],
    heading: str,
    findings: Findings,
    *,
    pattern: ClockPattern | None = None,
    skip: BoolArray | None = None,
    is_required: bool = True,
) -> ClockTimes:
    """Read a column of clock times: date cells, ISO 8601, a declared pattern, or day and month if certain.

    Parameters
    ----------
    cells
        The column, or date and time columns joined, one cell a row of the table.
    pattern
        Declared pattern of the times; None: ISO 8601, else what the column itself makes certain.
    skip
        Rows whose faults do not matter, shape ``(n_rows,)``.
    """
    fast = _iso_column(cells) if pattern is None else None
    if fast is not None:
        return fast
    inferred: ClockPattern | str | None = pattern
    if pattern is None:
        inferred = infer_pattern(cell for cell in cells if isinstance(cell, str))
    n = len(cells)
    local_us = np.full(n, NOT_A_TIME, dtype=np.int64)
    is_absolute = np.zeros(n, dtype=np.bool_)
    offenders: list[tuple[int, str]] = []
    for index, cell in enumerate(cells):
        fault: str | None = None
        if is_blank(cell):
            fault = 'The cell is empty. Give a time like "2027-03-01 22:00".' if is_required else None
        else:
            try:
                moment = _moment(cell, inferred)
                local_us[index], is_absolute[index] = _microseconds(moment), moment.tzinfo is not None
            except ValueError as error:
                fault = str(error)
        if fault is not None and (skip is None or not skip[index]):
            offenders.append((table.row_numbers[index], fault))
    findings.rows(table.file, heading, offenders)
    return ClockTimes(local_us, is_absolute)


def _iso_column(cells: Sequence[Cell]) -> ClockTimes | None:
    """Read a column in which every cell is plain ISO 8601 with a time of day, fast; None where one is not."""
    if set(map(type, cells)) != {str} or min(map(len, cells)) < SHORTEST_ISO:  # type: ignore[arg-type]
        return None
    joined = "".join(cells)  # type: ignore[arg-type]
    if joined.count("-") != 2 * len(cells) or not _ISO_LETTERS.issuperset(joined):
        return None  # offsets, other marks
    try:
        moments = np.array(cells, dtype="datetime64[us]")
    except ValueError:
        return None
    local_us = moments.astype(np.int64)
    if local_us.min() < _EARLIEST_US or local_us.max() >= _LATEST_US:
        return None
    return ClockTimes(local_us, np.zeros(len(cells), dtype=np.bool_))


def _moment(cell: Cell, pattern: ClockPattern | str | None) -> dt.datetime:
    """Read one cell. Raises ValueError with the reason."""
    if isinstance(cell, dt.datetime):
        return _rounded(cell)
    if not isinstance(cell, str):
        raise ValueError(f'Given {shown(cell)}, which is no date with a time. Write it like "2027-03-01 22:00".')
    text = " ".join(cell.split())
    if isinstance(pattern, ClockPattern):
        return pattern.read(text)
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        if isinstance(pattern, str):  # why no pattern is certain
            reason = (readings_of(text) or IN_DOUBT) if pattern.startswith(DOUBTFUL) else pattern
            raise ValueError(f"Given {shown(text)}. {reason}") from None
        raise ValueError(
            f'Given {shown(text)}, which is no time that is understood. Write it like "2027-03-01 22:00", '
            "or declare time_format."
        ) from None
    if len(text) < SHORTEST_ISO:
        raise ValueError(f'Given {shown(text)}, which has no time of day. Write it like "2027-03-01 22:00".')
    return moment


def _rounded(moment: dt.datetime) -> dt.datetime:
    """Undo the binary fractions of a day in which workbooks keep times."""
    rest = (moment.microsecond + _TEN_MS // 2) % _TEN_MS - _TEN_MS // 2
    return moment - dt.timedelta(microseconds=rest)


def _microseconds(moment: dt.datetime) -> int:
    if not EARLIEST_YEAR <= moment.year < LATEST_YEAR:
        raise ValueError(f"Given {moment}, a year in which no such test was made. Correct the year.")
    if moment.tzinfo is not None:
        moment = moment.astimezone(dt.UTC).replace(tzinfo=None)
    return (moment - EPOCH) // dt.timedelta(microseconds=1)


@dataclass(frozen=True, slots=True, eq=False)
class Resolved:
    """Instants of clock times in a zone."""

    instant_us: IntArray  # UTC; NOT_A_TIME where there is no such time
    is_twice: BoolArray  # the clock showed this time twice and order does not tell which
    is_never: BoolArray  # the clock jumped over this time


def resolve(times: ClockTimes, zone: str, *, is_in_order: bool) -> Resolved:
    """Put clock times of a zone on the one line of instants.

    Parameters
    ----------
    is_in_order
        The times are readings one after the other. An hour that the clock shows twice is then told
        apart by order; else it stays doubtful and the first of the two is given.
    """
    instants = times.local_us.copy()
    n = instants.size
    is_twice, is_never = np.zeros(n, dtype=np.bool_), np.zeros(n, dtype=np.bool_)
    where = np.flatnonzero(~times.is_absolute & (instants != NOT_A_TIME))
    if where.size == 0:
        return Resolved(instants, is_twice, is_never)
    quarters, inverse = np.unique(instants[where] // QUARTER_US, return_inverse=True)
    info = zoneinfo.ZoneInfo(zone)
    first_us, second_us = (_offsets(quarters, info, fold=fold)[inverse] for fold in (0, 1))
    local = instants[where]
    instants[where] = local - first_us
    is_never[where] = first_us < second_us
    doubtful = where[first_us > second_us]
    later = dict(zip(doubtful.tolist(), (local - second_us)[first_us > second_us].tolist(), strict=True))
    for index, second in later.items():
        if not is_in_order:
            is_twice[index] = True
        elif index > 0 and instants[index - 1] != NOT_A_TIME and instants[index] <= instants[index - 1] < second:
            instants[index] = second
    instants[is_never] = NOT_A_TIME
    return Resolved(instants, is_twice, is_never)


def _offsets(quarters: IntArray, zone: zoneinfo.ZoneInfo, *, fold: int) -> IntArray:
    """Offset of a zone from UTC at the beginning of local quarters of an hour [us]."""
    offsets = []
    for quarter in quarters.tolist():
        moment = (EPOCH + dt.timedelta(microseconds=quarter * QUARTER_US)).replace(tzinfo=zone, fold=fold)
        offset = moment.utcoffset() or dt.timedelta(0)
        offsets.append(offset // dt.timedelta(microseconds=1))
    return np.array(offsets, dtype=np.int64)


def clock_text(local_us: int) -> str:
    """Write a clock time in a message."""
    return (EPOCH + dt.timedelta(microseconds=local_us)).isoformat(" ", "seconds")


def report_unreal(
    file: str,
    heading: str,
    rows: Sequence[int] | IntArray,
    times: ClockTimes,
    resolved: Resolved,
    findings: Findings,
    *,
    zone: str,
    skip: BoolArray | None = None,
) -> None:
    """Report times that the clock never showed, and those that it showed twice."""
    offenders: list[tuple[int, str]] = []
    for index in np.flatnonzero(resolved.is_never | resolved.is_twice).tolist():
        if skip is not None and skip[index]:
            continue
        text = clock_text(int(times.local_us[index]))
        if resolved.is_never[index]:
            fault = (
                f"{text} never was in {zone}: the clock went forward over it. A clock that is never changed "
                'needs a fixed zone, like "Etc/GMT-1" for one hour ahead of UTC.'
            )
        else:
            first, second = _both_readings(int(times.local_us[index]), zone)
            fault = (
                f'{text} was twice in {zone}: the clock went back. Write which one is meant: "{first}" or "{second}".'
            )
        offenders.append((int(rows[index]), fault))
    findings.rows(file, heading, offenders)


def _both_readings(local_us: int, zone: str) -> tuple[str, str]:
    """A time that was twice with either offset."""
    clock = (EPOCH + dt.timedelta(microseconds=local_us)).replace(tzinfo=zoneinfo.ZoneInfo(zone))
    first, second = (clock.replace(fold=fold).isoformat(" ", "seconds") for fold in (0, 1))
    return first, second
