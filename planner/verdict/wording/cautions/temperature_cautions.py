"""Cautions about temperatures: what was recorded, in the curing room and beside the work."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.maturity import arrhenius_factor
from planner.terms.labels import percent
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution
from planner.terms.records import CuringRecord, Records
from planner.verdict.wording.cautions.circumstances import Circumstances

FREEZING_GUARD_MPA = 5.0  # EN 13670 (from memory); ACI 306R says 3.5 MPa
COLD_C = 10.0
ROOM_OFF_K = 2.0  # EN 12390-2 keeps standard curing within 2 K (from memory)
OWN_HEAT_H = 24.0  # before it the concrete's own heat hides the room
USUAL_Q_K = 5000.0
LATE_H = 72.0  # crossover is a matter of later strength
FEWEST_READINGS = 20  # of one value, before a record counts as one of a sensor that does not move


def temperature_cautions(about: Circumstances) -> Iterator[Caution]:
    """What the temperature records give cause for."""
    records = about.records.curing_records
    if not records:
        return
    site = [record for record in records if record.curing == "site"]
    readings = np.concatenate([record.temperature_c for record in records])
    wanted = about.settings.site_temperature_c
    if wanted is not None and site and leaves_site_records(about.records, about.settings):
        means = [float(record.temperature_c.mean()) for record in site]
        yield Caution(
            "site-outside-records",
            f"The site is stated at {wanted[0]:g} to {wanted[1]:g} C, the site records have means of "
            f"{min(means):.0f} to {max(means):.0f} C. What lies outside is not shown by these records.",
        )
    yield from _cold(about, readings)
    yield from _curing_room_off(about)
    yield from _constant(about)
    if site and max(about.cells.target_ages_h) >= LATE_H:
        warm = max(float(record.temperature_c[: max(len(record.temperature_c) // 4, 1)].mean()) for record in site)
        if warm > 28.0:
            yield Caution(
                "crossover",
                f"Site-cured concrete ran at up to {warm:.0f} C early on. Hot early curing lowers later strength "
                "(Carino and Lew 1983), which maturity does not see: check late ages separately.",
            )


def leaves_site_records(records: Records, settings: Settings) -> bool:
    """Whether a site range is stated that the site records do not cover; without such records, any."""
    wanted = settings.site_temperature_c
    if wanted is None:
        return False
    means = [float(item.temperature_c.mean()) for item in records.curing_records if item.curing == "site"]
    return not means or wanted[0] < min(means) - 1 or wanted[1] > max(means) + 1


def _cold(about: Circumstances, readings: np.ndarray) -> Iterator[Caution]:
    coldest = float(readings.min())
    if coldest < 0.0:
        yield Caution(
            "frozen-or-nearly",
            f"The coldest reading is {coldest:.1f} C. Freezing before about 3.5 MPa (ACI 306R) to "
            f"{FREEZING_GUARD_MPA:g} MPa (EN 13670; both from memory) does lasting harm that maturity does not "
            "see. Leave such batches out or void their breaks.",
        )
    maturity = about.recommended.maturity
    if maturity.method == "temperature-time" and maturity.constant <= -5.0 and coldest < COLD_C:
        yield Caution(
            "cold-with-low-datum",
            f"With a datum of {maturity.constant:g} C cold concrete (down to {coldest:.1f} C here) is credited "
            "with strength that may not be there. Check cold pours by companions.",
        )


def _curing_room_off(about: Circumstances) -> Iterator[Caution]:
    """A curing room that was not at its stated temperature shifts every standard-cured maturity."""
    stated_c = about.settings.prior.standard_curing_c
    if stated_c is None:
        return
    off = [
        (record.batch, mean_c)
        for record in about.records.curing_records
        if record.curing == "standard"
        and (mean_c := _room_mean_c(record)) is not None
        and abs(mean_c - stated_c) > ROOM_OFF_K
    ]
    if off:
        batch, worst_c = max(off, key=lambda pair: abs(pair[1] - stated_c))
        rate = float(arrhenius_factor(np.array([worst_c]), q_k=USUAL_Q_K, reference_c=stated_c)[0])
        others = f" and {len(off) - 1} other batches" if len(off) > 1 else ""
        yield Caution(
            "curing-room-off",
            f"The curing room is stated at {stated_c:g} C, but the record of {batch}{others} has a mean of "
            f"{worst_c:.1f} C after the first day: {percent(abs(rate - 1.0), digits=0)} of maturity at Q 5000 K. "
            "Correct [prior] standard_curing_c or the record.",
        )


def _room_mean_c(record: CuringRecord) -> float | None:
    """Mean by time once the concrete's own heat has gone; None where the record ends before."""
    late = record.elapsed_h >= OWN_HEAT_H
    if late.sum() < 2:
        return None
    hours, degrees = record.elapsed_h[late], record.temperature_c[late]
    return float(np.trapezoid(degrees, hours) / (hours[-1] - hours[0]))


def _constant(about: Circumstances) -> Iterator[Caution]:
    """Records whose every reading is the same: a sensor that does not move, or a value typed in."""
    stuck = [
        f"{record.batch} ({record.curing})"
        for record in about.records.curing_records
        if len(record.temperature_c) >= FEWEST_READINGS and np.ptp(record.temperature_c) == 0.0
    ]
    if stuck:
        yield Caution(
            "temperature-constant",
            f"Every reading is the same in {', '.join(stuck[:4])}{' and others' if len(stuck) > 4 else ''}: concrete "
            "warms itself, so a working sensor moves. Look at the sensor; void what it served.",
        )
