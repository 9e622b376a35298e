"""When a strength that the site waits for will be there, and how far off in hours. For planning, no reading."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.promise import Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursAt:
    """Hours to the strength at one constant concrete temperature."""

    temperature_c: float
    earliest_h: float | None  # for a pour as much stronger than typical as the safe reading allows weaker
    likely_h: float | None  # None: outside the break ages
    safe_h: Promise | None  # when the curve reads the safe-reading factor times the strength; None too where refused


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """One strength that the site waits for."""

    strength_mpa: float
    age_h: float  # typical, standard-cured [h]
    n_batches: int  # of the records, that its errors are judged on
    left_out: tuple[str, ...]  # batches that were not broken on both sides of it
    left_out_elsewhere: tuple[str, ...]  # batches that were, but that cannot judge another target
    interpolation_rms: float | None  # of the truth between two means, relative; the specimens' scatter is in it
    own_rms_h: float | None  # error on the own batch in hours at the reference temperature, held out
    later_rms_h: float | None  # the same on a later pour
    hours: tuple[HoursAt, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthAt:
    """The mean curve over hours at one constant concrete temperature."""

    temperature_c: float
    points: tuple[tuple[float, float], ...]  # (hours, MPa), rising


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """All strengths of a plan that the site waits for."""

    waits: tuple[Wait, ...]
    reference_c: float
    n_curves: int  # earlier batches whose mean curve gives the hours
    safe_factor: Promise | None
    assurance: float
    growth: tuple[GrowthAt, ...]  # coolest first
