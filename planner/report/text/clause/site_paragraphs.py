"""What the clause says of the pours: reading, safe reading, range, site checks, recalibration, records, payment."""

from __future__ import annotations

from collections.abc import Iterator

from planner.issued_curve.rules.rule_words import NO_LIMITS, lasting_words, tonight_words
from planner.report.text import words
from planner.report.text.clause.calibration_paragraphs import (
    EARLY_H,
    INTERVAL_EARLY_MIN,
    INTERVAL_LATE_MIN,
    SENSOR_ACCURACY_K,
    SENSOR_SOURCE,
)
from planner.report.text.clause.clause_paragraph import ClauseParagraph
from planner.report.text.clause.clause_values import batches_words, temperatures_words
from planner.terms.labels import at_least_label, percent
from planner.terms.results.minimum.clause_terms import ClauseError, ClauseTerms

SENSORS_PER_POUR = 2
RECORD_DAYS, SIGN_DAYS = 2, 2
PRACTICE = "common practice, no source"
SENSORS_OF_A_POUR = ClauseParagraph(
    number="",
    subject="Sensors of a pour",
    party="the contractor",
    duty=f"The contractor shall place at least {SENSORS_PER_POUR} sensors in every pour, where it stays coldest, "
    f"where it is thinnest and in the concrete placed last, accurate to ±{SENSOR_ACCURACY_K} K, recording "
    f"at least "
    f"every {INTERVAL_EARLY_MIN} min in the first {EARLY_H} h and every {INTERVAL_LATE_MIN} min afterwards, and "
    "read the pour by the least mature of them.",
    consequence="A pour without a working sensor shall not be read.",
    rests_on=f"places and number: {PRACTICE}; accuracy and interval: {SENSOR_SOURCE}",
)


def reading_paragraphs(clause: ClauseTerms) -> tuple[ClauseParagraph, ...]:
    """How a pour is read, and what may be relied on."""
    return (SENSORS_OF_A_POUR, *_relying(clause), _range(clause))


def check_paragraphs(clause: ClauseTerms) -> tuple[ClauseParagraph, ...]:
    """Companions beside the pours, tonight's rule, the lasting rule, a new calibration."""
    return tuple(_checks(clause))


def paper_paragraphs(clause: ClauseTerms) -> tuple[ClauseParagraph, ...]:
    """Records, signatures and payment."""
    return tuple(_papers(clause))


def _relying(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    error = clause.error
    if error is not None and error.is_later_kept is not True:
        yield _not_kept(clause, error)
    if error is None:
        yield ClauseParagraph(
            number="",
            subject="No reading is proof",
            party="the contractor",
            duty="The contractor shall not take any strength read from the curve as proof: 0 batches stand behind "
            "it, and nothing is promised of its error.",
            consequence="Every pour shall be released on its own companions alone, until this clause is replaced "
            "by one "
            "that rests on breaks.",
            rests_on=clause.interim_because,
        )
        return
    if error.safe_reading_factor is None:
        yield ClauseParagraph(
            number="",
            subject="Safe reading",
            party="the contractor",
            duty="The contractor shall not take a strength read from the curve alone as proof: no safe-reading factor "
            "can be "
            f"given from {error.n_batches} batches.",
            consequence="Every pour shall be released on its own companions.",
            rests_on=words.clean(error.no_factor_because) or "too few batches for a factor",
        )
        return
    factor = words.factor(error.safe_reading_factor)
    yield ClauseParagraph(
        number="",
        subject="Safe reading",
        party="the contractor",
        duty=f"The contractor shall take a required strength as reached only where the curve reads at least {factor} "
        f"times that "
        f"strength (the safe reading is the strength read divided by {factor}; assurance "
        f"{percent(clause.assurance, digits=0)}, {words.weaker_words(clause.assurance)}).",
        consequence="Below that the pour waits.",
        rests_on=f"factor estimated on {error.n_batches} batches, one-sided, rounded up",
    )


def _not_kept(clause: ClauseTerms, error: ClauseError) -> ClauseParagraph:
    """Later pours miss the tolerance, or nothing is known of them: the clause says so itself."""
    within, wanted = percent(clause.tolerance, digits=0), percent(clause.assurance, digits=0)
    if error.is_later_kept is None:
        said = (
            f"the records do not tell how later pours differ; {within} is kept on the trial batch's own concrete "
            f"only ({percent(error.own_batch_rms)} RMS)"
        )
    else:
        share = percent(error.later_within_tolerance or 0.0, digits=0)
        sure = at_least_label(error.later_within_tolerance_lower_95)
        said = (
            f"this calibration reads only {share} of later pours within {within}{sure} where {wanted} are wanted "
            f"({percent(error.later_rms or 0.0)} RMS; {percent(error.own_batch_rms)} on the trial batch's own concrete)"
        )
    of_mix = f" (worst mix: {words.clean(error.worst_mix, limit=60)})" if error.worst_mix else ""
    return ClauseParagraph(
        number="",
        subject="Later pours are not read within the tolerance",
        party="the engineer",
        duty=f"The engineer shall take every reading of a pour as an indication: {said}{of_mix}.",
        consequence="No pour shall be released on a reading alone; its own companions decide.",
        rests_on="fixed figures of the programme demanded, each batch read on the curves of the others",
    )


def _range(clause: ClauseTerms) -> ClauseParagraph:
    if clause.temperature_c is None:
        return ClauseParagraph(
            number="",
            subject="Temperature range",
            party="the engineer",
            duty="The engineer shall state the range of mean concrete temperature, of at most "
            "10 K, for which the curve is read: the records behind this clause show none.",
            consequence="Outside it, or where the concrete froze, nothing shall be read and the pour is released on "
            "its own companions.",
            rests_on="no range of concrete temperature is shown by the records; width of 10 K: " + PRACTICE,
        )
    recorded = clause.recorded_temperature_c
    return ClauseParagraph(
        number="",
        subject="Temperature range",
        party="the contractor",
        duty="The contractor shall read the curve only where the mean concrete temperature from age zero to the "
        f"reading lies within {temperatures_words(*clause.temperature_c)}.",
        consequence="Outside it, or where the concrete froze, nothing shall be read and the pour is released on its "
        "own companions.",
        rests_on="there every target lies between the first and the last break, and such temperatures are in the "
        "records" + ("" if recorded is None else f" (which reach from {recorded[0]:.1f} to {recorded[1]:.1f} C)"),
    )


def _checks(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    checks = clause.checks
    targets = ", ".join(clause.targets)
    yield ClauseParagraph(
        number="",
        subject="Companions of a pour",
        party="the contractor",
        duty=f"The contractor shall cast {checks.companions_per_check} companions from every pour that is read, cure "
        f"them beside it with a sensor in one of them, and have the laboratory break them at the target age "
        f"({targets}) "
        "that decides the operation.",
        consequence="A pour without companions shall wait for another proof of strength that the engineer accepts.",
        rests_on="companions of the plan",
    )
    sd = checks.check_sd
    if sd is None:
        yield ClauseParagraph(
            number="",
            subject="Every pour",
            party="the contractor",
            duty=f"The contractor shall let every pour wait for its {checks.companions_per_check} companions. "
            f"{NO_LIMITS}",
            consequence="A pour whose companions are below the required strength waits.",
            rests_on="the error on later pours is not known",
        )
    else:
        yield ClauseParagraph(
            number="",
            subject="Tonight's rule",
            party="the contractor",
            duty=f"The contractor shall hold every pour to tonight's rule. {tonight_words(sd=sd)}",
            consequence="A pour that waits is checked again on further companions or by another test.",
            rests_on=f"standard deviation of a check {percent(sd)}: later pours' error and the companions' scatter",
        )
        chances = ", ".join(f"{n} checks {percent(chance, digits=0)}" for n, chance in checks.chance_of_alarm)
        yield ClauseParagraph(
            number="",
            subject="Lasting rule",
            party="the laboratory",
            duty=f"The laboratory shall keep the checks in the order of casting and hold the curve to the "
            f"lasting rule. "
            f"{lasting_words(sd=sd)}",
            consequence="A withdrawn curve shall not be read.",
            rests_on=f"chance that a sound curve is withdrawn within {chances}",
        )
    causes = "; ".join(words.clean(text) for text in clause.recalibrate_when)
    yield ClauseParagraph(
        number="",
        subject="New calibration",
        party="the contractor",
        duty=f"The contractor shall calibrate anew, with {batches_words(clause.n_trial_batches)}, when: {causes}.",
        consequence="Until the new curve is accepted nothing shall be read.",
        rests_on="the same causes as on the sheet of the curve",
    )


def _papers(clause: ClauseTerms) -> Iterator[ClauseParagraph]:
    yield ClauseParagraph(
        number="",
        subject="Records",
        party="the laboratory",
        duty=f"The laboratory shall hand over within {RECORD_DAYS} working days of the last break: every load, "
        f"strength, "
        "age and time of break, every temperature record as logged, the curve with its constants and number, the "
        "acceptance, and every site check.",
        consequence="A curve whose records are missing shall not be accepted.",
        rests_on=PRACTICE,
    )
    yield ClauseParagraph(
        number="",
        subject="Signatures",
        party="the engineer",
        duty=f"The engineer shall accept or refuse the calibration in writing within {SIGN_DAYS} working days of the "
        "records; the laboratory signs the curve, the engineer signs every release.",
        consequence="An unsigned curve shall not be read, and an unsigned release is none.",
        rests_on=PRACTICE,
    )
    yield ClauseParagraph(
        number="",
        subject="Payment",
        party="the contractor",
        duty=f"The contractor shall include in the price {batches_words(clause.n_trial_batches)} with all specimens, "
        "sensors and reports, and the companions of every pour that is read; the owner pays for further ones that the "
        "engineer orders.",
        consequence="A trial batch repeated because it was refused or missed an age is not paid for again.",
        rests_on=PRACTICE,
    )
