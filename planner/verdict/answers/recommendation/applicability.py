"""On what an answer rests, where it may be used, and when it has to be made anew."""

from __future__ import annotations

import numpy as np

from planner.population.site import site_temperatures
from planner.resampling.priors.learnt import MOST_LEARNT_FROM
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES
from planner.terms.results.drawn_figures import Gain
from planner.terms.results.recommended.evidence_figures import Evidence, ValidFor
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.selection.offered_curves import why_not_learnt
from planner.verdict.selection.search import Search
from planner.verdict.wording.evidence_words import drawn_note, first_line, records_notes, scatter_note
from planner.verdict.wording.learnt_words import learnt_words, not_offered_words

RECALIBRATE_WHEN = (
    "cement, addition, admixture or water-binder ratio changes",
    "aggregate source or batching plant changes",
    "the lasting rule of the site checks withdraws the curve",
    "concrete temperatures leave the stated range",
)


def evidence_of(search: Search, more: tuple[Gain, ...], more_sentence: str) -> Evidence:
    """Grade, counts and what more breaks would do."""
    cells, records = search.cells, search.plan.records
    population = search.basis.population
    if population is None:
        batches, mixes, n_breaks = cells.views.batch, cells.views.mix, cells.n_breaks
        notes = [scatter_note(cells.scatter.source)]
    else:
        breaks = population.breaks
        batches, mixes = (breaks.batches, breaks.mixes) if breaks else ((), ())
        n_breaks = breaks.n_breaks if breaks else 0
        notes = [
            *population.notes,
            drawn_note(len(cells.views.batch), cells.n_units),
        ]
    learnt = tuple(dict.fromkeys(joint.curve for joint in search.matrix.joints if joint.is_learnt))
    if learnt:
        notes.append(learnt_words(learnt, is_by_mix=cells.is_by_mix, n_units=cells.n_units, most=MOST_LEARNT_FROM))
    left_out = why_not_learnt(search.basis)
    notes += [not_offered_words(curve, left_out[curve]) for curve in search.plan.settings.curves if curve in left_out]
    notes += records_notes(is_mix_named=records.has_mix_column or not records.breaks, n_voided=len(records.voided))
    return Evidence(
        grade=search.basis.grade,
        n_batches=len(set(batches)),
        n_mixes=len(set(mixes)),
        n_breaks=n_breaks,
        checked_against=cells.checked_against,
        checked_by_batch=cells.checked_by_batch,
        scatter_by_age=tuple((float(age), float(cv)) for age, cv in zip(cells.ages_h, cells.cv, strict=True)),
        notes=tuple(notes),
        first_line=first_line(population, more),
        more=more,
        more_sentence=more_sentence,
    )


def valid_for(search: Search, recommended: RatedChoice) -> ValidFor:
    """Mix, geometry, property, temperatures and maturities that were judged."""
    settings, cells, records = search.plan.settings, search.cells, search.plan.records
    setting = cells.settings.index(recommended.maturity)
    is_learnt = recommended.curve in PRIOR_CURVE_NAMES  # knows what the earlier batches were broken at as well
    ages_h = cells.ages_h if is_learnt else recommended.schedule.ages_h
    held = [int(np.argmin(np.abs(cells.ages_h - age))) for age in ages_h]
    span = cells.views.maturity_h[setting][:, held]
    geometries = sorted({item.geometry for item in records.breaks if item.geometry})
    mixes = sorted({item.mix for item in records.breaks if item.mix}) if search.basis.is_drawn else cells.views.mix
    return ValidFor(
        mix=settings.mix_name or ", ".join(sorted({mix for mix in mixes if mix})),
        geometry=(settings.prior.geometry if settings.prior.geometry in geometries else ", ".join(geometries))
        or (settings.prior.geometry or "" if search.basis.is_drawn else ""),
        property=settings.prior.property,
        concrete_temperature_c=_temperatures_c(search),
        maturity_span_h=(float(np.nanmedian(span[:, 0])), float(np.nanmedian(span[:, -1]))),
        recalibrate_when=RECALIBRATE_WHEN,
    )


def _temperatures_c(search: Search) -> tuple[float, float] | None:
    """Coolest and warmest mean concrete temperature that was checked; None where none was."""
    population = search.basis.population
    means: list[float] | FloatArray | None
    if population is None:
        records = search.plan.records.curing_records
        means = [float(record.temperature_c.mean()) for record in records if record.curing == "site"]
    else:
        means = site_temperatures(search.plan.settings, population.standard_c)
    if means is None or not len(means):
        return None
    return float(min(means)), float(max(means))
