"""What the clause says of the calibration: trial batch, specimens, ages, sensors, maturity, curve, acceptance."""

from __future__ import annotations

from collections.abc import Iterator

from planner.report.text.clause.clause_paragraph import ClauseParagraph
from planner.report.text.clause.clause_values import (
    ages_listed,
    batches_words,
    curve_words,
    geometry_words,
    mixes_words,
    n_broken,
)
from planner.report.text.conversion_words import conversion_line
from planner.report.text.curve_words import reckoning_words
from planner.terms.labels import age_label, ages_words, digits_label, percent
from planner.terms.plan.third_specimen import third_specimen_rule
from planner.terms.results.minimum.clause_terms import ClauseTerms

MEMORY = "memory, not looked up"
SENSOR_ACCURACY_K, INTERVAL_EARLY_MIN, INTERVAL_LATE_MIN, EARLY_H = 1, 30, 60, 48
SENSOR_SOURCE = f"ASTM C1074 ({MEMORY})"
CURING_DEVIATION_K = 2
PAIR = 2  # specimens of an age that can contradict each other without a third
NOTHING_BROKEN = "put in order on drawn batches or published growth: no error stands behind it"
AS_DEFINED = "as defined above"


def calibration_paragraphs(clause: ClauseTerms) -> tuple[ClauseParagraph, ...]:
    """Everything up to a signed curve."""
    return tuple(
        part
        for parts in (_casting(clause), _converting(clause), _breaking(clause), _measuring(clause), _accepting(clause))
        for part in parts
    )


def _casting(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    last = age_label(clause.ages[-1].age_h)
    each = "each of the mixes " if len(clause.mixes) > 1 else ""
    yield ClauseParagraph(
        number="",
        subject="Trial batches",
        party="the contractor",
        duty=f"The contractor shall cast at least {batches_words(clause.n_trial_batches)} of {each}"
        f"{mixes_words(clause)}, with the plant and materials of the works, early enough for its last break, at "
        f"{last}, to be in before the first pour that is to be read.",
        consequence="A pour placed before the curve is accepted shall not be read.",
        rests_on="number of trial batches of the programme demanded; the last break must be in",
    )
    ends = "plane ends, ground or capped," if clause.is_cylinder else "plane loaded faces"
    spares = "1 spare" if clause.n_spares == 1 else f"{clause.n_spares} spares"
    yield ClauseParagraph(
        number="",
        subject="Specimens",
        party="the laboratory",
        duty=f"The laboratory shall make of each trial batch at least {n_broken(clause.ages)} specimens for breaking "
        f"({geometry_words(clause)}) with {ends} as the test standard asks, {clause.n_instrumented} further specimens "
        f"that carry temperature sensors and are not broken, and {spares}.",
        consequence="A specimen that is damaged or not so prepared shall not count and shall be replaced by a spare.",
        rests_on="specimens of the programme demanded; instrumented specimens and spares: common practice, no source",
    )
    at = f"at {clause.standard_curing_c:g} C ±{CURING_DEVIATION_K} K" if clause.standard_curing_c is not None else ""
    yield ClauseParagraph(
        number="",
        subject="Curing",
        party="the laboratory",
        duty=f"The laboratory shall keep the specimens for the curve in standard curing {at}".rstrip()
        + f" until less than {INTERVAL_EARLY_MIN} min before they are broken, beside the {clause.n_instrumented} "
        "instrumented ones.",
        consequence="Where the curing left that condition, the recorded temperatures shall be used; without a record "
        "the trial batch shall be repeated.",
        rests_on=f"curing of the records; ±{CURING_DEVIATION_K} K: common practice, no source",
    )


def _converting(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    found = clause.conversion
    if found is None:
        return
    no_others = (
        "Class pairs such as C30/37 (EN 206, EN 1992) and the length-to-diameter corrections of ASTM C39 are no such "
        "conversion."
    )
    if found.span_mpa is None:
        yield ClauseParagraph(
            number="",
            subject="Conversion",
            party="the contractor",
            duty=f"The contractor shall cast {found.from_geometry} and {found.to_geometry} together in at least 3 "
            f"batches before a strength of the one is read as that of the other: the factor {found.factor:.3f} with "
            f"{percent(found.rms)} from batch to batch is stated and checked by no pairs. {no_others}",
            consequence=f"Until the engineer has agreed to those pairs the calibration shall be made with the "
            f"{found.to_geometry}.",
            rests_on="a factor stated in the plan behind this clause; no pairs",
        )
        return
    low, high = found.span_mpa
    yield ClauseParagraph(
        number="",
        subject="Conversion",
        party="the engineer",
        duty=f"The engineer shall agree in writing, before the trial batch is cast, that strengths of the "
        f"{found.from_geometry} are read as those of the {found.to_geometry}, {conversion_line(found)} broken: only "
        f"while pairs cast together ({found.n_pairs} in {found.n_batches} batches, {low:.1f} to {high:.1f} MPa of the "
        f"{found.from_geometry}) span the strength that decides, and while the safe reading rests on the total error "
        f"of curve and conversion. {no_others}",
        consequence=f"Without that agreement, and outside those strengths, the calibration shall be made with the "
        f"{found.to_geometry}.",
        rests_on=f"pairs of the records, judged on batches left out: they are converted {percent(found.rms)} "
        "off, a part of every error in this clause",
    )


def _breaking(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    permitted = (
        f"The deviations in brackets are those of {clause.deviations_after}, rounded down."
        if clause.deviations_after
        else "The engineer shall state the permitted deviation of every age."
    )
    yield ClauseParagraph(
        number="",
        subject="Ages",
        party="the laboratory",
        duty=f"The laboratory shall break of each trial batch at least: {ages_listed(clause.ages)}. {permitted}",
        consequence="A break outside its deviation shall be entered at its actual age and does not count for the age "
        "missed; where an age is missed altogether the trial batch shall be repeated.",
        rests_on=_ages_rest(clause),
    )
    if any(age.n_specimens == PAIR for age in clause.ages):
        third = third_specimen_rule(clause.geometry)
        yield ClauseParagraph(
            number="",
            subject="A further specimen",
            party="the laboratory",
            duty="The laboratory shall break a spare at the same age where the specimens of an age that has "
            f"two differ by more than {percent(third.most_range, digits=0)} of their mean, and use the mean of all 3.",
            consequence="Where no spare is left, the age counts as missed.",
            rests_on=f"rule of the third specimen: {third.source}",
        )
    asks = clause.standard
    if asks is None:
        return
    if asks.is_followed:
        duty = (
            f"The laboratory shall keep the counts of {asks.standard} (at least {asks.fewest_specimens} specimens at "
            f"{asks.fewest_ages} ages; from memory, the engineer verifies): the programme of this clause has "
            f"{n_broken(clause.ages)} at {ages_words(len(clause.ages))}."
        )
        consequence = "A calibration with fewer shall not be accepted under that standard."
    elif asks.ages:
        duty = (
            f"The laboratory shall, where {asks.standard} is in force, break at least {asks.fewest_specimens} "
            f"specimens "
            f"at {asks.fewest_ages} ages, which is more than this clause asks (from memory, the engineer "
            f"verifies); the "
            f"least programme that satisfies both is {batches_words(asks.n_trial_batches)}, "
            f"{ages_listed(asks.ages)}."
        )
        consequence = "Where that standard is in force a calibration with fewer shall not be accepted."
    else:
        duty = (
            f"The laboratory shall, where {asks.standard} is in force, break at least {asks.fewest_specimens} "
            f"specimens "
            f"at {asks.fewest_ages} ages, which is more than this clause asks (from memory, the engineer verifies); no "
            "programme within the limits behind this clause has so many."
        )
        consequence = (
            "Where that standard is in force a calibration with fewer shall not be accepted, and the engineer shall "
            "name the ages."
        )
    yield ClauseParagraph(
        number="",
        subject=f"Where {asks.standard} is in force",
        party="the laboratory",
        duty=duty,
        consequence=consequence,
        rests_on=f"counts of {asks.standard}: {MEMORY}",
    )


def _ages_rest(clause: ClauseTerms) -> str:
    error = clause.error
    if error is None:
        return "ages put in order on drawn batches or published growth: no error stands behind them"
    shares = ", ".join(
        f"{age_label(age.age_h)} {digits_label(age.multiple, 2)}" for age in clause.ages if age.multiple is not None
    )
    later = "" if error.later_rms is None else f", later pour {percent(error.later_rms)} RMS"
    times = f"; as times the earliest target's maturity: {shares}" if shares else ""
    return (
        f"held out on {error.n_batches} batches ({error.n_breaks} breaks): own batch "
        f"{percent(error.own_batch_rms)} RMS{later}{times}"
    )


def _measuring(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    yield ClauseParagraph(
        number="",
        subject="Sensors of the trial batch",
        party="the laboratory",
        duty=f"The laboratory shall place one sensor at the middle of each of the {clause.n_instrumented} instrumented "
        f"specimens, accurate to ±{SENSOR_ACCURACY_K} K, and record at intervals of at most {INTERVAL_EARLY_MIN} min "
        f"in the first {EARLY_H} h and {INTERVAL_LATE_MIN} min afterwards, beginning at age zero.",
        consequence="A sensor that is late, dead or silent for more than two intervals shall not be used; with none "
        "left the trial batch shall be repeated.",
        rests_on=SENSOR_SOURCE,
    )
    named = {item.maturity for item in clause.curves}
    text = "; ".join(
        (f"{item.mix}: " if len(named) > 1 else "") + " ".join(reckoning_words(item.maturity, age_zero=AS_DEFINED))
        for item in (clause.curves if len(named) > 1 else clause.curves[:1])
    )
    yield ClauseParagraph(
        number="",
        subject="Maturity function",
        party="the laboratory",
        duty=f"The laboratory shall reckon maturity for the trial batch and for every pour alike: {text}",
        consequence="A curve or a logger set to another function or other constants shall not be used.",
        rests_on="chosen with the curve on the records among the constants of the plan, held out"
        if clause.error is not None
        else NOTHING_BROKEN,
    )
    curves = "; ".join(curve_words(item, is_named=len(clause.curves) > 1) for item in clause.curves)
    first, last = age_label(clause.ages[0].age_h), age_label(clause.ages[-1].age_h)
    mean = (
        ""
        if clause.n_trial_batches == 1
        else f" The curve is the mean of the {clause.n_trial_batches} trial batches' curves at the same maturity."
    )
    yield ClauseParagraph(
        number="",
        subject="Curve",
        party="the laboratory",
        duty=f"The laboratory shall fit to the mean strengths of the ages, each age counting once, {curves} (S "
        f"strength, "
        f"t maturity).{mean}",
        consequence=f"The curve ends at the maturities of its first and last break (standard-cured {first} and "
        f"{last}); "
        "beyond them nothing shall be read.",
        rests_on="lowest loss of the curves of the plan, held out" if clause.error is not None else NOTHING_BROKEN,
    )


def _accepting(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    companions = clause.checks.companions_per_check
    targets = ", ".join(clause.targets)
    beside = (
        f"The contractor shall cure {companions} companions of the trial batch beside the work for each of the targets "
        f"({targets}), each group with a sensor in one of them; the laboratory breaks them."
    )
    if clause.checks.acceptance:
        yield ClauseParagraph(
            number="",
            subject="Acceptance of the calibration",
            party="the contractor",
            duty=f"{beside} {clause.checks.acceptance}",
            consequence="A curve that is not accepted shall not be read.",
            rests_on="own-batch error with the choosing held out; false alarm 5 % over all groups",
        )
        return
    yield ClauseParagraph(
        number="",
        subject="Acceptance of the calibration",
        party="the contractor",
        duty=f"{beside} How far off they may be is not known: the engineer judges every difference.",
        consequence="A curve that the engineer has not accepted shall not be read.",
        rests_on="nothing is known of the own-batch error",
    )
