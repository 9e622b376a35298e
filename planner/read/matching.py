"""Breaks beside the temperature records that must serve them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from planner.read.parsing.findings import Findings
from planner.read.parsing.nearest_name import nearest
from planner.read.temperatures.curing_records import place_name
from planner.terms.labels import listed
from planner.terms.records import Break, CuringRecord

Place = tuple[str, str]  # batch, curing
MOST_SLACK_H = 1.0  # a record may end this much before the break where it reads no more often
MOST_GAP_H = 0.5  # and this much, with a caution, where it reads more often
LONG_RECORD = 10.0  # times as long as the last break it serves
LONG_STEP_H = 4.0
SAME_WITHIN = 2.0
MINUTES = 60.0


def check_served(
    file: str,
    temperature_file: str,
    breaks: Sequence[Break],
    records: Sequence[CuringRecord],
    findings: Findings,
    *,
    standard_curing_c: float | None,
) -> tuple[CuringRecord, ...]:
    """Report breaks whose record ends too early or cannot be told.

    Returns
    -------
    tuple
        The records; one that ends within a reading interval of a break is carried on to it at its last
        temperature.
    """
    by_place: dict[Place, list[CuringRecord]] = defaultdict(list)
    for each in records:
        by_place[each.batch, each.curing].append(each)
    offenders: list[tuple[int, str]] = []
    continued: dict[str, float] = {}
    gaps: list[str] = []
    carried_to: dict[int, float] = {}  # by position of the record
    position = {id(each): place for place, each in enumerate(records)}
    for item in breaks:
        candidates = by_place.get((item.batch, item.curing), [])
        if not candidates:
            continue
        record = _serving(item, candidates)
        if record is None:
            offenders.append((item.row or 0, _which_placement(item, candidates)))
            continue
        end_h = float(record.elapsed_h[-1])
        if item.tested_h <= end_h:
            continue
        if item.tested_h <= end_h + max(_slack_h(record), MOST_GAP_H):
            if item.tested_h > end_h + _slack_h(record):
                gaps.append(
                    f"{place_name(item.batch, item.curing, record.placement)} {MINUTES * (item.tested_h - end_h):.0f} "
                    f"minutes before the break at {item.tested_h:.6g} h (row {item.row})"
                )
            place = position[id(record)]
            carried_to[place] = max(item.tested_h, carried_to.get(place, 0.0))
        elif item.curing == "standard" and standard_curing_c is not None:
            continued[item.batch] = end_h
        else:
            name = place_name(item.batch, item.curing, record.placement)
            offenders.append(
                (
                    item.row or 0,
                    f"The break is at {item.tested_h:.6g} h, but the temperature record of {name} in "
                    f"{temperature_file} ends at {end_h:.6g} h. Give the rest of the record, "
                    "or void the break.",
                )
            )
    findings.rows(file, None, offenders)
    if gaps:
        findings.caution(
            "record-carried-on",
            f"{temperature_file}: records end before a break they serve and are carried on at their last temperature, "
            f"up to {MINUTES * MOST_GAP_H:g} minutes: {listed(gaps, most=4)}. Give the rest of the record where there "
            "is one.",
        )
    if continued:
        ends = listed(f"{batch} from {end_h:.4g} h" for batch, end_h in continued.items())
        findings.caution(
            "record-continued",
            f"The temperature records of some standard-cured specimens end before their last break ({ends}); "
            f"they are continued at the standard curing temperature {standard_curing_c:g} C.",
        )
    return tuple(
        _carried_on(given, carried_to[place]) if place in carried_to else given for place, given in enumerate(records)
    )


def _carried_on(record: CuringRecord, end_h: float) -> CuringRecord:
    elapsed_h = np.append(record.elapsed_h, end_h)
    temperature_c = np.append(record.temperature_c, record.temperature_c[-1])
    elapsed_h.flags.writeable = temperature_c.flags.writeable = False
    return replace(record, elapsed_h=elapsed_h, temperature_c=temperature_c)


def _serving(item: Break, candidates: Sequence[CuringRecord]) -> CuringRecord | None:
    """Give the record that serves a break: the only one, else the one of its placement."""
    if len(candidates) == 1:
        return candidates[0]
    return next((record for record in candidates if record.placement == item.placement), None)


def _which_placement(item: Break, candidates: Sequence[CuringRecord]) -> str:
    placements = [record.placement or "(none)" for record in candidates]
    near = nearest(item.placement, placements) if item.placement else None
    given = f'names the placement "{item.placement}"' if item.placement else "names no placement"
    guess = f' Perhaps "{near}" is meant.' if near else ""
    return (
        f'The break of batch "{item.batch}", {item.curing}, {given}, but there are {len(placements)} '
        f"temperature records: {listed(placements)}. Say in a placement column which one serves it.{guess}"
    )


def _slack_h(record: CuringRecord) -> float:
    """How far beyond its last reading a record still serves: one reading interval, at most an hour."""
    return min(MOST_SLACK_H, float(np.median(np.diff(record.elapsed_h))))


def report_minutes(
    temperature_file: str,
    breaks: Sequence[Break],
    records: Sequence[CuringRecord],
    findings: Findings,
    *,
    targets_h: Sequence[float] | None = None,
) -> None:
    """Refuse records of elapsed minutes under a heading of hours; caution of others far longer than their breaks.

    Parameters
    ----------
    targets_h
        Of breaks after the plan, ages [h] that a site record without breaks is read at: its loggers are left running,
        of which nothing is said. None: earlier batches.
    """
    ages_h: dict[Place, list[float]] = defaultdict(list)
    for item in breaks:
        ages_h[item.batch, item.curing].append(item.tested_h)
    long: list[str] = []
    for record in records:
        own_h = ages_h.get((record.batch, record.curing), [])
        needed = own_h or (list(targets_h or ()) if record.curing == "site" else [])
        end_h, needed_h = float(record.elapsed_h[-1]), max(needed, default=0.0)
        if needed_h == 0.0 or end_h < LONG_RECORD * needed_h:
            continue
        name = place_name(record.batch, record.curing, record.placement)
        text = (
            f"the record of {name} goes on to {end_h:.6g} h, {end_h / needed_h:.0f} times its last "
            f"{'break' if own_h else 'target'} at {needed_h:g} h"
        )
        is_as_long = 1 / SAME_WITHIN < end_h / MINUTES / needed_h < SAME_WITHIN
        second_h = float(record.elapsed_h[1])
        skips_first = second_h / MINUTES < min(needed) < second_h  # as hours no reading comes before the first age
        is_like_minutes = is_as_long or skips_first
        if is_like_minutes and float(np.median(np.diff(record.elapsed_h))) >= LONG_STEP_H:
            findings.problem(
                temperature_file,
                f"{text[0].upper()}{text[1:]}. In minutes it would end at {end_h / MINUTES:.4g} h: divide "
                "the times by 60, or end the record after what it serves.",
                column="elapsed_h",
            )
        elif targets_h is None:
            long.append(text)
    if long:
        findings.caution(
            "record-long",
            f"{temperature_file}: {listed(long, most=4)}. Where its times are minutes, divide them by 60; where it was "
            "left running, nothing is lost.",
        )


def note_unused(
    temperature_file: str, breaks: Sequence[Break], records: Sequence[CuringRecord], findings: Findings
) -> None:
    """Say which records serve no break."""
    served = {(item.batch, item.curing) for item in breaks}
    places = dict.fromkeys((each.batch, each.curing) for each in records)
    unused = [f"{batch} {curing}" for batch, curing in places if (batch, curing) not in served]
    if unused:
        findings.caution(
            "temperature-unused",
            f"{temperature_file} has records that serve no break ({listed(unused)}). "
            "Check the spelling of batch and curing where they should.",
        )
