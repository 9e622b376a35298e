"""Cautions about the testing machine and the ends of specimens: what it breaks in time, and what it can load."""

from __future__ import annotations

from collections.abc import Iterator

from planner.terms.labels import age_label
from planner.terms.plan.geometry import is_cylinder, load_kn
from planner.terms.plan.machine_time import most_specimens, window_minutes
from planner.terms.problems import Caution
from planner.verdict.wording.cautions.circumstances import Circumstances

UNBONDED_MPA = (10.0, 80.0)  # unbonded caps, ASTM C1231 (from memory)
QUALIFIED_PADS_MPA = 50.0  # above it pads need qualification tests, ASTM C1231 (from memory)
SULPHUR_H, SULPHUR_STRONG_H, SULPHUR_STRONG_MPA = 2.0, 16.0, 35.0  # hardening of sulphur caps, ASTM C617 (from memory)


def machine_cautions(about: Circumstances) -> Iterator[Caution]:
    """What the testing machine and the ends of the specimens give cause for."""
    yield from _too_slow(about)
    geometry = about.geometry
    if geometry:
        yield from _range(about, geometry)
    if is_cylinder(geometry):
        yield from _ends(about)


def _too_slow(about: Circumstances) -> Iterator[Caution]:
    """Counts that were not offered because breaking them takes longer than their permitted window."""
    laboratory, most_wanted = about.settings.laboratory, about.settings.choices.specimens_per_age[1]
    if laboratory is None:
        return
    held = []
    for age_h in about.cells.ages_h[about.cells.is_candidate].tolist():
        most, minutes = most_specimens(age_h, laboratory), window_minutes(age_h, laboratory)
        if most is not None and minutes is not None and most < most_wanted:
            held.append(f"{age_label(age_h)} {most or 'none'} in {minutes:.1f} minutes")
    if held:
        yield Caution(
            "counts-too-slow",
            f"At {laboratory.minutes_per_break:g} minutes a break on {laboratory.machines} testing "
            f"machine{'s' if laboratory.machines > 1 else ''} the permitted windows ({laboratory.age_tolerances}) hold "
            f"at most: {'; '.join(held)}. Larger counts are not offered there. More machines would allow them.",
        )


def _usual_mpa(about: Circumstances) -> list[tuple[float, float]]:
    """Ages of the schedule with the strength that is usual there, youngest first."""
    typical = dict(zip(about.cells.ages_h.tolist(), about.cells.typical_mpa().tolist(), strict=True))
    return [(age, about.as_broken(typical[age])) for age in about.recommended.schedule.ages_h]


def _range(about: Circumstances, geometry: str) -> Iterator[Caution]:
    """Breaks outside the loads that the machine is verified for."""
    laboratory = about.settings.laboratory
    if laboratory is None or laboratory.machine_kn is None:
        return
    least_kn, most_kn = laboratory.machine_kn
    loads = [(age, mpa, kn) for age, mpa in _usual_mpa(about) if (kn := load_kn(geometry, mpa)) is not None]
    below = [f"{age_label(age)} {kn:.0f} kN ({mpa:.1f} MPa)" for age, mpa, kn in loads if kn < least_kn]
    above = [f"{age_label(age)} {kn:.0f} kN ({mpa:.1f} MPa)" for age, mpa, kn in loads if kn > most_kn]
    if below:
        yield Caution(
            "below-machine-range",
            f"Breaks of the {geometry} fall below the verified range of the testing machine, from {least_kn:g} kN: "
            f"{', '.join(below)}. Its reading is not verified there: use a smaller machine or a larger specimen.",
        )
    if above:
        yield Caution(
            "above-machine-capacity",
            f"Breaks of the {geometry} go beyond the testing machine's {most_kn:g} kN: {', '.join(above)}. Cast a "
            "smaller specimen or use a stronger machine.",
        )


def _ends(about: Circumstances) -> Iterator[Caution]:
    """Caps that the strength or the age of a break does not suit."""
    usual, (low, high) = _usual_mpa(about), UNBONDED_MPA
    said = []
    outside = [f"{age_label(age)} {mpa:.1f} MPa" for age, mpa in usual if not low <= mpa <= high]
    if outside:
        said.append(f"unbonded caps serve {low:g} to {high:g} MPa (ASTM C1231), not {', '.join(outside)}")
    pads = [f"{age_label(age)} {mpa:.1f} MPa" for age, mpa in usual if QUALIFIED_PADS_MPA < mpa <= high]
    if pads:
        said.append(
            f"above {QUALIFIED_PADS_MPA:g} MPa pads need qualification tests (ASTM C1231), so at {', '.join(pads)}"
        )
    fresh = [
        f"{age_label(age)} {mpa:.1f} MPa"
        for age, mpa in usual
        if age < (SULPHUR_H if mpa < SULPHUR_STRONG_MPA else SULPHUR_STRONG_H)
    ]
    if fresh:
        said.append(
            f"sulphur caps harden for {SULPHUR_H:g} h, from {SULPHUR_STRONG_MPA:g} MPa on for {SULPHUR_STRONG_H:g} h "
            f"(ASTM C617), longer than {', '.join(fresh)} leaves"
        )
    if said:
        text = "; ".join(said)
        yield Caution(
            "ends-of-cylinders",
            f"{text[0].upper()}{text[1:]} (from memory). Grind the ends there, or show that the caps serve.",
        )
