"""Cautions about the records of earlier batches: how many, of what, checked against what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from statistics import fmean

import numpy as np

from planner.terms.labels import age_label, counted, percent, target_label
from planner.terms.plan.precision import Precision, stated_precision
from planner.terms.problems import Caution
from planner.terms.results.check_condition import TruthSource
from planner.verdict.wording.cautions.circumstances import Circumstances

MANY_BATCHES = 9
SCATTER_OF_PRECISION = 1.5  # scatter this many times the stated precision is worth a caution
GROWTH_OVER = 2.0  # from one age to this many times it concrete grows stronger
LEAST_GROWTH = 0.02  # by more than this share; common practice, no source
EARLY_H = 24.0


def record_cautions(about: Circumstances) -> Iterator[Caution]:
    """What the records give cause for."""
    yield from _batches(about)
    yield from _mixes(about)
    yield from _scatter(about)
    yield from _growth(about)
    yield from _early_records(about)


def _batches(about: Circumstances) -> Iterator[Caution]:
    cells = about.cells
    n = len(about.batches) if about.basis.is_drawn else cells.n_units
    if n == 1:
        yield Caution(
            "few-batches",
            "The advice rests on one batch: no error can be held out, and nothing is known of how batches differ. "
            "Break a second one of the same mix.",
        )
    elif 0 < n < MANY_BATCHES:
        yield Caution(
            "few-batches",
            f"The advice rests on {n} batches: bounds are wide. Add batches of the same mix as they are cast.",
        )
    yield from _curing_room(about)


def _curing_room(about: Circumstances) -> Iterator[Caution]:
    """Checks against standard-cured specimens show nothing about concrete at site temperatures."""
    cells = about.cells
    if about.basis.is_drawn or cells.checked_against == "site-cured":
        return
    in_room = np.array([item.source is TruthSource.STANDARD_CURED for item in cells.checks.condition])
    whole = [
        target_label(age, wait)
        for at, (age, wait) in enumerate(zip(cells.target_ages_h, cells.target_waits_mpa, strict=True))
        if in_room[cells.checks.target == at].all()
    ]
    if in_room.all():
        which = "The truth was standard-cured specimens"
    elif whole:
        which = f"The truth at {', '.join(whole)} was standard-cured specimens"
    else:
        batches = sorted({cells.views.batch[view] for view in cells.checks.view[in_room]})
        which = f"The truth of {', '.join(batches)} was in part standard-cured specimens"
    yield Caution(
        "checked-in-the-curing-room",
        f"{which}: nothing is shown of the site. Site temperatures change the growth; break site-cured companions "
        "at the target ages.",
    )


def _mixes(about: Circumstances) -> Iterator[Caution]:
    records, settings = about.records, about.settings
    mixes = sorted({item.mix for item in records.breaks if item.mix})
    wanted = settings.mix_name.strip().casefold()
    if wanted and mixes and wanted not in {mix.strip().casefold() for mix in mixes}:
        yield Caution(
            "mix-not-in-records",
            f'The plan is for "{settings.mix_name}", the records are of {", ".join(mixes[:4])}'
            f"{' and others' if len(mixes) > 4 else ''}: another mix grows in another way. Correct [mix] name, or "
            'judge by leaving whole mixes out ([prior] hold_out = "mix").',
        )
    if settings.prior.hold_out == "batch" and len(mixes) > 1:
        yield Caution(
            "mixes-pooled",
            f"{len(mixes)} mixes are judged together, as if a later pour were one of them. They are "
            f"{', '.join(mixes[:4])}{' and others' if len(mixes) > 4 else ''}. Keep the rows of one mix, or state "
            '[prior] hold_out = "mix" for a mix not among them.',
        )


def _scatter(about: Circumstances) -> Iterator[Caution]:
    """Scatter far beyond the precision stated for the geometry; nothing where no statement covers it."""
    cells = about.cells
    if cells.scatter.n_degrees.sum() == 0:
        return
    if np.allclose(cells.scatter.pooled_cv, 0.0):
        yield Caution(
            "strengths-all-equal",
            "Replicates broken together are equal to the last digit, which broken concrete is not. Give the strength "
            "of every specimen, or state [prior] within_test_cv where only means are known.",
        )
    stated = _precision(about)
    if stated is None:
        return
    limit = SCATTER_OF_PRECISION * stated.within_test_cv
    least, most = stated.strengths_mpa
    high = [
        (age, cv)
        for age, cv, mpa in zip(cells.ages_h, cells.cv, cells.typical_mpa(), strict=True)
        if cv > limit and least <= mpa <= most
    ]
    if high:
        is_pooled = len(high) > 1 and len({cv for _, cv in high}) == 1
        ages = [(age_label(float(age)), percent(float(cv))) for age, cv in high]
        listed = (
            f"{', '.join(age for age, _ in ages)}, each {ages[0][1]}"
            if is_pooled
            else ", ".join(f"{age} {cv}" for age, cv in ages)
        )
        yield Caution(
            "scatter-beyond-precision",
            f"Replicates scatter beyond {stated.source}'s {percent(stated.within_test_cv)}: {listed}. That is its "
            "precision for this specimen, from memory. Look at moulds, ends and loading rate; less "
            "scatter buys more than more specimens.",
        )


def _precision(about: Circumstances) -> Precision | None:
    return stated_precision(about.geometry)


def _growth(about: Circumstances) -> Iterator[Caution]:
    """Batches that are no stronger at twice the age: no curve of growth can be right for them."""
    strengths: dict[str, dict[float, list[float]]] = defaultdict(lambda: defaultdict(list))
    for item in about.records.breaks:
        if item.curing == "standard":
            strengths[item.batch][item.age_h].append(item.strength_mpa)
    flat = []
    for batch, by_age in strengths.items():
        first, last = min(by_age), max(by_age)
        if last >= GROWTH_OVER * first and fmean(by_age[last]) <= (1 + LEAST_GROWTH) * fmean(by_age[first]):
            flat.append(
                f"{batch} ({fmean(by_age[first]):.1f} MPa at {age_label(first)}, "
                f"{fmean(by_age[last]):.1f} MPa at {age_label(last)})"
            )
    if flat:
        yield Caution(
            "strength-does-not-grow",
            f"Strength does not grow with age in {', '.join(flat[:4])}{' and others' if len(flat) > 4 else ''}: a "
            "strength-maturity curve of such concrete tells nothing. Look for ages or strengths that were mixed up.",
        )


def _early_records(about: Circumstances) -> Iterator[Caution]:
    cells = about.cells
    logged = {record.batch for record in about.records.curing_records if record.curing == "standard"}
    bare = [name for name in about.batches if name not in logged]
    early = [age for age in about.recommended.schedule.ages_h if age <= EARLY_H]
    if bare and early and cells.settings[0].method != "age":
        yield Caution(
            "early-age-without-record",
            f"Early ages ({', '.join(age_label(age) for age in early)}) of {counted(len(bare), 'batch', 'batches')} "
            "have no temperature record, so their own heat is not seen: 2 K are 12 % and 5 K 33 % of maturity (derived "
            "for Q 5000 K). Record temperatures inside companions.",
        )
