"""What the reader must know before relying on the answer: a code, the figure, what to do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.population import Basis
from planner.resampling import ErrorMatrix
from planner.terms.labels import age_label, percent
from planner.terms.problems import Caution
from planner.terms.recommendation import Honest, RatedChoice
from planner.terms.records import Records
from planner.terms.settings import Settings

STANDING = (
    "Maturity does not notice wrong, watered or frozen concrete: before a critical operation confirm by "
    "another test that the concrete delivered is the concrete calibrated.",
    "Local codes, the project specification and the responsible engineer decide; this is advice on a test "
    "programme, not a permission to strip, load, de-tension or open.",
)
MANY_BATCHES = 9
C39_CV = 0.032  # ASTM C39, 100x200 mm cylinders, laboratory (from memory)
FORM_REMOVAL_H = 16.0  # EN 12390-2, earliest removal from the mould (from memory)
FREEZING_GUARD_MPA = 5.0  # EN 13670 (from memory); ACI 306R says 3.5 MPa
USUAL_BASIS_C = 40.0  # the usual maturity constants rest on about 0 to 40 C (from memory)
COLD_C = 10.0
EARLY_H = 24.0
OTHER_POUR_SHARE = 1.5  # next-batch error this many times the own-batch error is worth a caution


@dataclass(frozen=True, slots=True, eq=False)
class Circumstances:
    """Everything a caution may look at."""

    settings: Settings
    records: Records
    basis: Basis
    matrix: ErrorMatrix
    recommended: RatedChoice
    honest: Honest

    @property
    def cells(self) -> Cells:
        return self.basis.cells

    @property
    def batches(self) -> tuple[str, ...]:
        """Batches that were cast and broken, not drawn ones."""
        population = self.basis.population
        if population is None:
            return tuple(dict.fromkeys(self.cells.view_batch))
        return population.breaks.batches if population.breaks else ()


def cautions(about: Circumstances) -> tuple[Caution, ...]:
    """List every caution that applies, those of the verdict first, then those of the records."""
    found: list[Caution] = []
    for check in (_verdict, _schedule, _span, _evidence, _temperatures, _fits):
        found += check(about)
    return tuple(dict.fromkeys([*about.basis.cautions, *found, *about.cells.cautions, *about.records.cautions]))


def _evidence(about: Circumstances) -> Iterator[Caution]:
    cells = about.cells
    n = len(about.batches) if about.basis.is_drawn else cells.n_units
    if 0 < n < MANY_BATCHES:
        yield Caution(
            "few-batches",
            f"The advice rests on {n} {'batch' if n == 1 else 'batches'}; bounds are wide for that reason. Add "
            "batches of the same mix as they are cast.",
        )
    if not about.basis.is_drawn and cells.checked_against != "site-cured":
        yield Caution(
            "checked-in-the-curing-room",
            f"The truth was {cells.checked_against} specimens, so nothing is shown about concrete at site "
            "temperatures. Break site-cured companions at the target ages.",
        )
    high = [(age, cv) for age, cv in zip(cells.ages_h, cells.cv, strict=True) if cv > 1.5 * C39_CV]
    if high and not cells.scatter.basis.startswith("no companions"):
        listed = ", ".join(f"{age_label(float(age))} {percent(float(cv))}" for age, cv in high)
        yield Caution(
            "scatter-beyond-precision",
            f"Companions scatter more than the precision of ASTM C39 for 100x200 mm cylinders (3.2 %, from "
            f"memory): {listed}. Look at moulds, ends and loading rate; less scatter buys more than more "
            "specimens.",
        )


def _verdict(about: Circumstances) -> Iterator[Caution]:
    honest, tolerance = about.honest, about.settings.target.tolerance
    own, later = honest.own_batch, honest.next_batch
    if later is not None and own is not None and later.rms > OTHER_POUR_SHARE * own.nested_rms:
        two = later.rms_by_trial_batches[1]
        yield Caution(
            "other-pour",
            f"A later batch is read {percent(later.rms)} off where the trial batch itself is read "
            f"{percent(own.nested_rms)} off: batches differ by about {percent(later.between_batch_cv)}. "
            f"Calibrate on two trial batches (about {percent(two)}), and check every pour.",
        )
    over = later or own
    if over is not None and over.over_predicted_beyond_tolerance > 0.05:
        yield Caution(
            "over-prediction",
            f"{percent(over.over_predicted_beyond_tolerance, digits=0)} of readings are too high by more than "
            f"{percent(tolerance, digits=0)}, which is the dangerous side.{_safe_readings(about)}",
        )
    if own is not None and own.is_below_resolution:
        yield Caution(
            "below-resolution",
            f"The own-batch error is smaller than these records can resolve; {percent(own.nested_rms)} is what "
            "the scatter of the specimens alone gives. More companions at the target would show it.",
        )
    if honest.safe_reading_factor is None:
        yield Caution("no-safe-reading", f"No safe reading is given: {honest.safe_reading_basis}.")


def _safe_readings(about: Circumstances) -> str:
    """What the curve must read before the strengths usual at the targets are there; nothing where none is safe."""
    factor, cells = about.honest.safe_reading_factor, about.cells
    if factor is None:
        return ""
    usual = [cells.check_truth_mpa[cells.check_target == at].mean() for at in range(len(cells.target_ages_h))]
    listed = " and ".join(f"{mpa * factor:.1f} MPa for {mpa:.1f} MPa" for mpa in usual)
    weaker = percent(1.0 - about.settings.target.assurance, digits=0)
    return (
        f" The curve must read {factor:.2f} times the strength that is needed (at the strengths usual at the "
        f"targets {listed}); {weaker} of pours may still be weaker."
    )


def _schedule(about: Circumstances) -> Iterator[Caution]:
    choice, laboratory = about.recommended, about.settings.laboratory
    if choice.is_extrapolating:
        yield Caution(
            "extrapolation",
            "In at least one batch the curve is read outside the span of its break ages. Prefer a schedule "
            "that breaks before and after the target's maturity.",
        )
    if min(choice.schedule.specimens) <= 2:
        yield Caution(
            "two-specimens",
            "Ages with two specimens leave a bad break unnoticed. Break a third where the two differ by more "
            "than 10 % of their mean (ASTM C1074, from memory).",
        )
    removal_h = FORM_REMOVAL_H
    if laboratory is not None and laboratory.form_removal_h is not None:
        removal_h = laboratory.form_removal_h
    early = [age_label(age) for age in choice.schedule.ages_h if age < removal_h]
    if early:
        yield Caution(
            "before-form-removal",
            f"Breaks at {', '.join(early)} come before the usual form removal at {removal_h:g} h (EN 12390-2: "
            "16 h to 3 d; ASTM C192: 24 +-8 h; from memory). State the departure and handle the specimens with "
            "care.",
        )


def _span(about: Circumstances) -> Iterator[Caution]:
    cells, offered = about.cells, about.cells.ages_h[about.cells.is_candidate]
    outside = [age_label(age) for age in cells.target_ages_h if offered.size and not offered[0] <= age <= offered[-1]]
    if outside:
        yield Caution(
            "target-outside-span",
            f"The target {', '.join(outside)} lies outside the ages that may be broken ({age_label(offered[0])} to "
            f"{age_label(offered[-1])}): every schedule extrapolates. Offer an age beyond the target.",
        )
    logged = {record.batch for record in about.records.curing_records if record.curing == "standard"}
    bare = [name for name in about.batches if name not in logged]
    early = [age for age in about.recommended.schedule.ages_h if age <= EARLY_H]
    if bare and early and cells.settings[0].method != "age":
        yield Caution(
            "early-age-without-record",
            f"Early ages ({', '.join(age_label(age) for age in early)}) of {len(bare)} batches have no temperature "
            "record, so their own heat is not seen: 2 K are 12 % and 5 K 33 % of maturity (derived for Q 5000 K). "
            "Record temperatures inside companions.",
        )


def _fits(about: Circumstances) -> Iterator[Caution]:
    matrix = about.matrix
    share = matrix.n_at_bound / max(matrix.n_fits, 1)
    if matrix.n_unconverged or share > 0.10:
        yield Caution(
            "fits-at-bounds",
            f"Of {matrix.n_fits} iterative fits {matrix.n_at_bound} ended at a bound of a shape parameter and "
            f"{matrix.n_unconverged} did not converge after a second look; they are scored as they stand.",
        )


def _temperatures(about: Circumstances) -> Iterator[Caution]:
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
    hottest = float(readings.max())
    for limit_c, code, text in (
        (70.0, "above-70-c", "delayed ettringite formation is a danger; project limits decide (EN 13670)"),
        (
            65.0,
            "above-65-c",
            "delayed ettringite formation may be a danger; project limits decide (EN 13670)",
        ),
        (USUAL_BASIS_C, "above-40-c", "the usual maturity constants rest on about 0 to 40 C"),
    ):
        if hottest > limit_c:
            yield Caution(code, f"The hottest reading is {hottest:.1f} C, above {limit_c:g} C: {text} (from memory).")
            break
    if site:
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
