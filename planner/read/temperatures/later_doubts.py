"""Records of pours that no working sensor in hardening concrete writes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from planner.read.parsing.findings import Findings
from planner.read.temperatures.curing_records import place_name
from planner.terms.labels import listed
from planner.terms.records import CuringRecord

# Bounds below: common practice, no source. Concrete warms itself in its first day and cools after it.
FEWEST_STILL = 6  # readings of a record that has no other value
STILL_H = 16.0  # one value for so long, from a time in the concrete's first hours on; whole degrees included
BEGINS_BY_H = 12.0


def note_still_sensors(file: str, records: Iterable[CuringRecord], findings: Findings) -> None:
    """Caution of site records that stand still while the concrete warms itself: a sensor outside, stuck, or a guess."""
    still = [
        f"{place_name(record.batch, record.curing, record.placement)} at {record.temperature_c[first]:.4g} C from "
        f"{record.elapsed_h[first]:.4g} to {record.elapsed_h[last]:.4g} h"
        for record in records
        if record.curing == "site" and (spell := _still(record)) is not None
        for first, last in [spell]
    ]
    if still:
        findings.caution(
            "temperature-still",
            f"{file}: {listed(still, most=4)}. Concrete warms itself, so a working sensor inside it moves: what is "
            "read off this record may be too high. Look at the sensor; leave its record out where it was stuck or "
            "typed in.",
        )


def _still(record: CuringRecord) -> tuple[int, int] | None:
    """First and last reading of the longest spell of one value that no concrete has; None: there is none."""
    edges = np.flatnonzero(np.concatenate(([True], np.diff(record.temperature_c) != 0, [True])))
    first, last = edges[:-1], edges[1:] - 1
    if len(first) == 1:
        return (0, int(last[0])) if last[0] + 1 >= FEWEST_STILL else None
    early = record.elapsed_h[first] <= BEGINS_BY_H
    spans_h = np.where(early, record.elapsed_h[last] - record.elapsed_h[first], 0.0)
    longest = int(np.argmax(spans_h))
    is_still = spans_h[longest] >= STILL_H and last[longest] - first[longest] + 1 >= FEWEST_STILL
    return (int(first[longest]), int(last[longest])) if is_still else None
