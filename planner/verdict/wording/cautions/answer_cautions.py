"""Cautions about the recommended schedule and its errors."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from planner.terms.labels import age_label, percent, target_label
from planner.terms.plan.third_specimen import third_specimen_rule
from planner.terms.problems import Caution
from planner.verdict.statistics.left_out import left_out_in_turn
from planner.verdict.wording.cautions.circumstances import Circumstances

FORM_REMOVAL_H = 16.0  # EN 12390-2, earliest removal from the mould (from memory)
OTHER_POUR_SHARE = 1.5  # later-pour error this many times the own-batch error is worth a caution
WIDEST_STEP = 0.40  # of the strength at the last break, between two breaks around a target; common practice, no source
FEWEST_SENSORS = 2  # specimens with sensors in a trial batch, ASTM C1074 (from memory)


def answer_cautions(about: Circumstances) -> Iterator[Caution]:
    """What the errors and the schedule give cause for."""
    yield from _verdict(about)
    yield from _schedule(about)
    yield from _span(about)
    yield from _wide_step(about)
    yield from _sensors(about)
    yield from _fits(about)


def _verdict(about: Circumstances) -> Iterator[Caution]:
    honest, tolerance = about.honest, about.settings.target.tolerance
    own, later = honest.own_batch, honest.next_batch
    if about.settings.programme_asked.relies_on_records:
        yield Caution(
            "nothing-cast",
            "The plan casts nothing ([programme] trial_batches = 0). 'test-ages curve PLAN' issues the mean curve of "
            "the earlier batches. The schedule here, its figures and its cost are those of one trial batch, if it is "
            "to be cast all the same.",
        )
    if later is not None and own is not None and later.rms > OTHER_POUR_SHARE * own.nested_rms:
        judged = "On drawn batches" if about.basis.is_drawn else "With the choosing held out"
        two = f" (about {percent(later.rms_by_trial_batches[1])})" if len(later.rms_by_trial_batches) > 1 else ""
        yield Caution(
            "other-pour",
            f"{judged}, a later pour is read {percent(later.rms)} off and the own batch "
            f"{percent(own.nested_rms)}: batches differ by about {percent(later.between_batch_cv)}. "
            f"Calibrate on two trial batches{two}, and check every pour.",
        )
    over = later or own
    if over is not None and over.over_predicted_beyond_tolerance > 0.05:
        yield Caution(
            "over-prediction",
            f"{percent(over.over_predicted_beyond_tolerance, digits=0)} of readings are too high by more than "
            f"{percent(tolerance, digits=0)}, the dangerous side.{_safe_readings(about)}",
        )
    if own is not None and own.is_below_resolution:
        yield Caution(
            "below-resolution",
            f"The own-batch error is smaller than these records can resolve; {percent(own.nested_rms)} is what "
            "the scatter of the specimens alone gives. More companions at the target would show it.",
        )
    if honest.safe_reading_factor is None:
        yield Caution("no-safe-reading", f"No safe reading is given: {honest.safe_reading_unknown_because}.")


def _safe_readings(about: Circumstances) -> str:
    """What the curve must read before the strengths usual at the targets are there; nothing where none is safe."""
    factor, cells = about.honest.safe_reading_factor, about.cells
    if factor is None:
        return ""
    waited = math.ceil(100 * factor - 1e-9) / 100  # rounded up: it is waited for
    means = [cells.checks.truth_mpa[cells.checks.target == at].mean() for at in range(len(cells.target_ages_h))]
    usual = [round(float(mean), 1) for mean in means]
    listed = " and ".join(f"{math.ceil(10 * mpa * waited - 1e-6) / 10:.1f} MPa for {mpa:.1f} MPa" for mpa in usual)
    weaker = percent(1.0 - about.settings.target.assurance, digits=0)
    return (
        f" The curve must read {waited:.2f} times the strength that is needed (at the strengths usual at the "
        f"targets {listed}); {weaker} of pours may still be weaker."
    )


def _schedule(about: Circumstances) -> Iterator[Caution]:
    choice, laboratory = about.recommended, about.settings.laboratory
    if choice.is_extrapolating:
        yield Caution(
            "extrapolation",
            f"In a {'drawn batch' if about.basis.is_drawn else 'batch'} or more the curve is read outside the "
            "maturities broken. A cool site is younger than the clock says, a warm one older. Prefer a schedule that "
            "breaks before and after the target's maturity.",
        )
    if min(choice.schedule.specimens) <= 2:
        geometries = {item.geometry for item in about.records.breaks}
        third = third_specimen_rule(geometries.pop() if len(geometries) == 1 else "")
        yield Caution(
            "two-specimens",
            "Ages with two specimens leave a bad break unnoticed. Break a third where the two differ by more "
            f"than {percent(third.most_range, digits=0)} of their mean ({third.source}).",
        )
    removal_h, whose = FORM_REMOVAL_H, "the usual form removal"
    if laboratory is not None and laboratory.form_removal_h is not None:
        removal_h, whose = laboratory.form_removal_h, "the plan's form removal"
    early = [age_label(age) for age in choice.schedule.ages_h if age < removal_h]
    if early:
        yield Caution(
            "before-form-removal",
            f"Breaks at {', '.join(early)} come before {whose} at {removal_h:g} h. Usual are 16 h to 3 d (EN 12390-2) "
            "or 24 ±8 h (ASTM C192; both from memory). State the departure and handle the specimens with care.",
        )


def _span(about: Circumstances) -> Iterator[Caution]:
    cells, offered = about.cells, about.cells.ages_h[about.cells.is_candidate]
    outside = [
        target_label(age, wait)
        for age, wait in zip(cells.target_ages_h, cells.target_waits_mpa, strict=True)
        if offered.size and not offered[0] <= age <= offered[-1]
    ]
    if outside:
        reach = [age for age in about.settings.choices.ages_h if age >= max(cells.target_ages_h)]
        edit = "Offer an age beyond the target."
        if reach and not about.basis.is_drawn:  # offered, and taken back because its few specimens check
            edit = f"The plan offers {age_label(reach[0])}, but too few were broken there to fit and to check a curve."
        yield Caution(
            "target-outside-span",
            f"The target {', '.join(outside)} lies outside the ages that may be broken ({age_label(offered[0])} to "
            f"{age_label(offered[-1])}): every schedule extrapolates. {edit}",
        )


def _wide_step(about: Circumstances) -> Iterator[Caution]:
    """A target that the curve crosses a hole for: the two breaks around it are far apart in strength."""
    cells, choice = about.cells, about.recommended
    crossed: dict[tuple[float, float], list[str]] = {}
    typical = dict(zip(cells.ages_h.tolist(), cells.typical_mpa().tolist(), strict=True))
    ages_h = choice.schedule.ages_h
    last_mpa = typical[ages_h[-1]]
    for target, wait in zip(cells.target_ages_h, cells.target_waits_mpa, strict=True):
        for before, after in pairwise(ages_h):
            step = typical[after] - typical[before]
            if before < target < after and step > WIDEST_STEP * last_mpa:
                crossed.setdefault((before, after), []).append(target_label(target, wait))
    for (before, after), targets in crossed.items():
        yield Caution(
            "wide-strength-step",
            f"At {', '.join(targets)} the curve spans a hole from {age_label(before)} ({typical[before]:.0f} MPa) to "
            f"{age_label(after)} ({typical[after]:.0f} MPa). That step is "
            f"{percent((typical[after] - typical[before]) / last_mpa, digits=0)} of the strength at the last break; "
            "ASTM C1074 asks for five ages with about equal steps of strength (from memory). Add a break in between.",
        )


def _sensors(about: Circumstances) -> Iterator[Caution]:
    programme = about.settings.programme
    if programme is not None and 0 < programme.instrumented < FEWEST_SENSORS:
        yield Caution(
            "one-sensor",
            "One specimen has a temperature sensor; ASTM C1074 wants two. From memory; a failed sensor costs the whole "
            "calibration. State [programme] instrumented = 2.",
        )


def _fits(about: Circumstances) -> Iterator[Caution]:
    matrix = about.matrix
    if about.is_thinned:
        yield Caution(
            "search-thinned",
            f"Of {matrix.n_searched} schedules so many come near the best that at this price only those of lowest loss "
            "were held to the end: one that ties with the recommended or beats it at no higher price may have been "
            "missed. Narrow specimens_per_age, most_ages or [budget] specimens to have all of them compared.",
        )
    n_units = about.cells.n_units
    n_left_out = len(left_out_in_turn(n_units))
    if n_left_out < n_units and not about.basis.is_drawn:
        name = "mixes" if about.cells.is_by_mix else "batches"
        yield Caution(
            "even-choice-of-batches",
            f"The records hold {n_units} {name}. All of them choose the schedule. Its choosing is repeated without "
            f"{n_left_out} of them in turn, evenly chosen in their order, and later pours are judged on at most as "
            "many: figures held out and their bounds rest on those.",
        )
    share = matrix.n_at_bound / max(matrix.n_fits, 1)
    if matrix.n_unconverged or share > 0.10:
        yield Caution(
            "fits-at-bounds",
            f"Of {matrix.n_fits} iterative fits {matrix.n_at_bound} ended at a bound of a shape parameter and "
            f"{matrix.n_unconverged} did not converge after a second look; they are scored as they stand.",
        )
