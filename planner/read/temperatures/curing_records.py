"""Readings into curing records: order, gaps, jumps, several sensors in one placement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from planner.read.parsing.findings import Findings
from planner.read.parsing.given_units import temperature_given
from planner.read.temperatures.sensor_faults import SPIKE_C, spikes, stuck_spell, wrong_unit
from planner.read.temperatures.temperature_file import SensorReadings
from planner.terms.arrays import FloatArray
from planner.terms.labels import listed
from planner.terms.records import CuringRecord

LONGEST_GAP_H = 6.0
MOST_GAPS, MOST_COPIES = 4, 4  # records that are told singly
LARGEST_JUMP_C = 40.0
COLDEST_C, HOTTEST_C = -40.0, 120.0  # what a sensor in concrete can read (common practice, no source)
SENSORS_APART_C = 2.0  # common practice, no source
FEWEST_COPIED = 10  # readings that are equal before it is no chance
LATEST_START_H = 1.0  # a first reading later than this leaves the earliest hours unknown


def build_curing_records(file: str, readings: Iterable[SensorReadings], findings: Findings) -> tuple[CuringRecord, ...]:
    """Make one record of each batch, curing and placement. Faulty sensors are named and left out."""
    by_place: dict[tuple[str, str, str], list[SensorReadings]] = defaultdict(list)
    for sensor in readings:
        checked = _checked(file, sensor, findings)
        if checked is not None:
            by_place[sensor.batch, sensor.curing, sensor.placement].append(checked)
    _note_gaps(file, [sensor for sensors in by_place.values() for sensor in sensors], findings)
    records = tuple(_record(file, sensors, findings) for sensors in by_place.values())
    _note_copies(file, records, findings)
    return records


def _note_gaps(file: str, sensors: list[SensorReadings], findings: Findings) -> None:
    """Records with long steps between two readings, all of a file in one caution."""
    found = [
        f"{_name(sensor)}: {gaps.size}, the longest {step_h.max():.3g} h before row "
        f"{sensor.rows[int(np.argmax(step_h)) + 1]}"
        for sensor in sensors
        if (gaps := np.flatnonzero((step_h := np.diff(sensor.elapsed_h)) > LONGEST_GAP_H)).size
    ]
    if found:
        whose = "record has" if len(found) == 1 else "records have"
        told = listed(found, most=MOST_GAPS, between="; ")
        findings.caution(
            "temperature-gap",
            f"{file}: {len(found)} {whose} gaps over {LONGEST_GAP_H:g} h, bridged by straight lines ({told}). A peak "
            "in a gap is not seen.",
        )


def _note_copies(file: str, records: tuple[CuringRecord, ...], findings: Findings) -> None:
    """Records equal to the last digit that cannot be: of the site and the curing room, or of two castings."""
    moving = [one for one in records if np.ptp(one.temperature_c) > 0.0 and one.temperature_c.size >= FEWEST_COPIED]
    rooms = {(one.batch, _content(one)) for one in moving if one.curing == "standard"}
    of_room = [one for one in moving if one.curing == "site" and (one.batch, _content(one)) in rooms]
    if of_room:
        whose, are, their = ("record", "is that", "its") if len(of_room) == 1 else ("records", "are those", "their")
        findings.caution(
            "temperatures-copied",
            f"{file}: the {whose} of {_listed_places(of_room)} {are} of {their} standard-cured specimens to the last "
            "digit, which concrete on site never is. Give the record of the site, or leave it out.",
        )
    alike: dict[bytes, list[CuringRecord]] = defaultdict(list)
    for one in moving:
        if one.curing != "standard":  # one room serves many batches
            alike[_content(one)].append(one)
    for group in alike.values():
        if len({one.batch for one in group}) > 1:
            findings.caution(
                "temperatures-copied",
                f"{file}: the records of {_listed_places(group)} are equal to the last digit, which concrete cast on "
                "two days never is. Give each batch its own record.",
            )


def _listed_places(records: list[CuringRecord]) -> str:
    names = [place_name(one.batch, one.curing, one.placement) for one in records]
    return listed(names, most=MOST_COPIES, between="; ")


def _content(record: CuringRecord) -> bytes:
    return record.elapsed_h.tobytes() + record.temperature_c.tobytes()


def place_name(batch: str, curing: str, placement: str, sensor: str = "") -> str:
    """Name a record in a message."""
    parts = [f'batch "{batch}"', curing]
    parts += [f'placement "{placement}"'] if placement else []
    parts += [f'sensor "{sensor}"'] if sensor else []
    return ", ".join(parts)


def _name(sensor: SensorReadings) -> str:
    return place_name(sensor.batch, sensor.curing, sensor.placement, sensor.sensor)


def _checked(file: str, sensor: SensorReadings, findings: Findings) -> SensorReadings | None:
    """Refuse records that cannot be true; drop readings before age zero; merge those of one instant."""
    n_before = len(findings.problems)
    unit = wrong_unit(sensor.curing, sensor.elapsed_h, sensor.temperature_c)
    if unit is not None:
        findings.problem(file, f"The record of {_name(sensor)} is in another unit: {unit}.", column="temperature")
        return None
    _report_impossible(file, sensor, findings)
    _report_backwards(file, sensor, findings)
    if len(findings.problems) > n_before:
        return None
    sensor = _since_age_zero(file, sensor, findings)
    if sensor.elapsed_h.size < 2:
        findings.problem(
            file,
            f"The record of {_name(sensor)} has {sensor.elapsed_h.size} readings since age zero. "
            "Give at least two, or leave the record out.",
        )
        return None
    _note_two_at_once(file, sensor, findings)
    sensor = _merged_instants(sensor)
    _report_steps(file, sensor, findings)
    _note_sensor_faults(file, sensor, findings)
    return None if len(findings.problems) > n_before else sensor


def _given(sensor: SensorReadings, temperature_c: float) -> str:
    return temperature_given(temperature_c, is_fahrenheit=sensor.is_fahrenheit)


def _report_impossible(file: str, sensor: SensorReadings, findings: Findings) -> None:
    wrong = np.flatnonzero((sensor.temperature_c < COLDEST_C) | (sensor.temperature_c > HOTTEST_C))
    findings.rows(
        file,
        "temperature",
        (
            (
                int(sensor.rows[index]),
                f"The reading is {_given(sensor, sensor.temperature_c[index])}, outside {_given(sensor, COLDEST_C)} to "
                f"{_given(sensor, HOTTEST_C)}. Correct the unit, or remove the reading.",
            )
            for index in wrong.tolist()
        ),
    )


def _report_backwards(file: str, sensor: SensorReadings, findings: Findings) -> None:
    wrong = np.flatnonzero(np.diff(sensor.elapsed_h) < 0) + 1
    if wrong.size:
        index = int(wrong[0])
        more = f", and {wrong.size - 1} times more" if wrong.size > 1 else ""
        findings.problem(
            file,
            f"The time of {_name(sensor)} goes backwards: {sensor.elapsed_h[index]:.6g} h follows "
            f"{sensor.elapsed_h[index - 1]:.6g} h (row {sensor.rows[index - 1]}){more}. Sort the rows, name several "
            "sensors in a sensor column, or exchange the columns where time and temperature are turned round.",
            row=int(sensor.rows[index]),
            column="elapsed_h",
        )


def _since_age_zero(file: str, sensor: SensorReadings, findings: Findings) -> SensorReadings:
    keep = sensor.elapsed_h >= 0
    n_dropped = int(keep.size - keep.sum())
    if n_dropped == 0:
        return sensor
    findings.caution(
        "readings-before-zero",
        f"{file}: {n_dropped} readings of {_name(sensor)} were taken before age zero and are not used.",
    )
    return _part(sensor, keep)


def _part(sensor: SensorReadings, keep: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> SensorReadings:
    return replace(
        sensor, elapsed_h=sensor.elapsed_h[keep], temperature_c=sensor.temperature_c[keep], rows=sensor.rows[keep]
    )


def _note_two_at_once(file: str, sensor: SensorReadings, findings: Findings) -> None:
    """Readings of one instant that no two sensors of one specimen have."""
    apart = np.flatnonzero((np.diff(sensor.elapsed_h) == 0) & (np.abs(np.diff(sensor.temperature_c)) > SPIKE_C))
    if apart.size:
        first = int(apart[0])
        more = f", and {apart.size - 1} more such pairs" if apart.size > 1 else ""
        one, other = (f"{sensor.temperature_c[at]:.4g} C (row {sensor.rows[at]})" for at in (first, first + 1))
        findings.caution(
            "two-readings-at-once",
            f"{file}: the record of {_name(sensor)} has two readings at {sensor.elapsed_h[first]:.6g} h, {one} and "
            f"{other}{more}. Their mean is used: name the sensors in a sensor column, or remove the wrong one.",
        )


def _merged_instants(sensor: SensorReadings) -> SensorReadings:
    """Average readings of the same instant: loggers that write minutes, sensors without a name."""
    is_new = np.concatenate(([True], np.diff(sensor.elapsed_h) > 0))
    if is_new.all():
        return sensor
    starts = np.flatnonzero(is_new)
    counts = np.diff(np.append(starts, is_new.size))
    merged = _part(sensor, is_new)
    means = np.add.reduceat(sensor.temperature_c, starts) / counts
    return replace(merged, temperature_c=means)


def _report_steps(file: str, sensor: SensorReadings, findings: Findings) -> None:
    """Refuse jumps that no concrete makes, caution of those over a long step."""
    step_h, step_c = np.diff(sensor.elapsed_h), np.diff(sensor.temperature_c)
    jumps = np.abs(step_c) > LARGEST_JUMP_C
    is_sudden = jumps & (np.abs(step_c) > LARGEST_JUMP_C * step_h)
    findings.rows(
        file,
        "temperature",
        (
            (
                int(sensor.rows[index + 1]),
                f"The temperature of {_name(sensor)} jumps from {_given(sensor, sensor.temperature_c[index])} to "
                f"{_given(sensor, sensor.temperature_c[index + 1])} within {step_h[index]:.3g} h, more than "
                f"{LARGEST_JUMP_C:g} K. Remove or correct the reading.",
            )
            for index in np.flatnonzero(is_sudden).tolist()
        ),
    )
    slow = np.flatnonzero(jumps & ~is_sudden)
    if slow.size:
        findings.caution(
            "temperature-jump",
            f"{file}: the record of {_name(sensor)} changes by more than {LARGEST_JUMP_C:g} C between "
            f"readings {slow.size} times, first before row {sensor.rows[slow[0] + 1]}. "
            "Read more often, or check it.",
        )


def _note_sensor_faults(file: str, sensor: SensorReadings, findings: Findings) -> None:
    found = spikes(sensor.elapsed_h, sensor.temperature_c)
    found = [index for index in found if abs(np.diff(sensor.temperature_c[index - 1 : index + 1])[0]) <= LARGEST_JUMP_C]
    if found:
        where = listed(
            f"row {sensor.rows[index]}: {sensor.temperature_c[index]:.4g} C between "
            f"{sensor.temperature_c[index - 1]:.4g} and {sensor.temperature_c[index + 1]:.4g} C"
            for index in found
        )
        findings.caution(
            "temperature-spike",
            f"{file}: the record of {_name(sensor)} has {len(found)} spikes ({where}). They are used as they "
            "stand; remove them where the sensor was at fault.",
        )
    spell = stuck_spell(sensor.elapsed_h, sensor.temperature_c)
    if spell is not None and sensor.curing != "standard":
        first, last = spell
        findings.caution(
            "temperature-stuck",
            f"{file}: the record of {_name(sensor)} stays at {sensor.temperature_c[first]:.4g} C from "
            f"{sensor.elapsed_h[first]:.4g} to {sensor.elapsed_h[last]:.4g} h (rows {sensor.rows[first]} to "
            f"{sensor.rows[last]}) though it moves elsewhere: the sensor may have been stuck.",
        )


def _record(file: str, sensors: list[SensorReadings], findings: Findings) -> CuringRecord:
    first = sensors[0]
    elapsed_h, temperature_c = first.elapsed_h, first.temperature_c
    if len(sensors) > 1:
        elapsed_h, temperature_c = _averaged(file, sensors, findings)
    if elapsed_h[0] > LATEST_START_H:
        findings.caution(
            "temperature-late-start",
            f"{file}: the record of {place_name(first.batch, first.curing, first.placement)} begins "
            f"{elapsed_h[0]:.3g} h after age zero; its first reading is taken to hold from age zero.",
        )
    return CuringRecord(
        batch=first.batch,
        curing=first.curing,
        placement=first.placement,
        elapsed_h=_frozen(elapsed_h),
        temperature_c=_frozen(temperature_c),
    )


def _averaged(file: str, sensors: list[SensorReadings], findings: Findings) -> tuple[FloatArray, FloatArray]:
    """Average several sensors at every time one of them read, as far as all of them reach."""
    end_h = min(sensor.elapsed_h[-1] for sensor in sensors)
    elapsed_h = np.unique(np.concatenate([sensor.elapsed_h for sensor in sensors]))
    elapsed_h = elapsed_h[elapsed_h <= end_h]
    stacked = np.stack([np.interp(elapsed_h, item.elapsed_h, item.temperature_c) for item in sensors])
    apart = np.ptp(stacked, axis=0)
    if apart.max() > SENSORS_APART_C:
        first = sensors[0]
        findings.caution(
            "sensors-apart",
            f"{file}: the {len(sensors)} sensors of {place_name(first.batch, first.curing, first.placement)} "
            f"differ by up to {apart.max():.3g} C, at {elapsed_h[int(np.argmax(apart))]:.4g} h; more than "
            f"{SENSORS_APART_C:g} C is worth a look. Their mean is used.",
        )
    return elapsed_h, stacked.mean(axis=0)


def _frozen(values: FloatArray) -> FloatArray:
    values = np.ascontiguousarray(values)
    values.flags.writeable = False
    return values
