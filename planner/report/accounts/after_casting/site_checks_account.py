"""The site checks of an issued curve: what becomes of it, every check, both rules."""

from __future__ import annotations

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.rules.lasting import JudgedCheck
from planner.issued_curve.rules.rule_limits import CUSUM_LIMIT, LOW_Z
from planner.issued_curve.rules.rule_words import customary_words, lasting_words, tonight_words
from planner.issued_curve.site_answer import SiteAnswer
from planner.report.accounts.after_casting.curve_account import safe_words, strength_words
from planner.report.text import words
from planner.report.text.blocks import Block, Column, Facts, Paragraph, Section, Table
from planner.report.text.curve_status_words import (
    GROUND_WORDS,
    LASTING_WORDS,
    REFUSAL_WORDS,
    SHORT_GROUNDS,
    curve_alarm_words,
)
from planner.report.text.curve_words import companions_label, maturity_number, maturity_words
from planner.terms.labels import percent


def site_checks_account(answer: SiteAnswer) -> tuple[Section, ...]:
    """What to do now, first."""
    sections = [_now(answer), Section("Checks in order", (_table(answer),)), _next(answer), _rules(answer)]
    if answer.cautions:
        pairs = tuple((caution.code, words.clean(caution.text)) for caution in answer.cautions)
        sections.append(Section("Before using it", (Facts(pairs),)))
    return tuple(sections)


def _now(answer: SiteAnswer) -> Section:
    verdict = answer.verdict
    blocks: list[Block] = [Paragraph(LASTING_WORDS[verdict.state], is_strong=True)]
    last = verdict.points[-1]
    pour = words.clean(last.check.companions.batch, limit=24)
    blocks.append(Paragraph(f"Last pour, {pour}: {tonight_text(last)}. No objection is no permission."))
    rescaling = verdict.rescaling
    if rescaling is not None and verdict.alarm_at is not None:
        at = words.clean(verdict.points[verdict.alarm_at].check.companions.batch, limit=24)
        said = (
            f"Withdrawn at {at}. The {rescaling.n_checks} pours since the sum left nought lie "
            f"{percent(rescaling.mean_difference, is_signed=True)} from the curve on the mean"
        )
        if rescaling.refusal is not None:
            said += f". Another scale is refused: {REFUSAL_WORDS[rescaling.refusal]}"
        blocks.append(Paragraph(said + "."))
    if answer.rescaled is not None and rescaling is not None and rescaling.factor is not None:
        first, end = (maturity_words(maturity, answer.curve.maturity) for maturity in answer.rescaled.span_h)
        blocks.append(
            Paragraph(
                f"Curve {answer.rescaled.number} reads {rescaling.factor:.3f} times curve {answer.curve.number} (the "
                f"checks count {percent(rescaling.weight, digits=0)} against {_usual_words(answer.curve)}) and holds "
                f"from {first} to {end}. It is in force when the responsible engineer has signed it."
            )
        )
    return Section(f"Curve {answer.curve.number} after {_pours_words(verdict.n_pours)}", tuple(blocks))


def _usual_words(curve: IssuedCurve) -> str:
    """What a change of strength is held against, see :func:`.rescaling_of`."""
    if curve.pour_model is None:
        return f"a later pour's usual error, {percent(curve.promise.later_rms or 0.0)}"
    return f"what batches usually differ by in strength, {percent(curve.pour_model.scale_sd)}"


def _next(answer: SiteAnswer) -> Section:
    """How the next curve's prior changes with the checks."""
    found, curve = answer.next_prior, answer.curve
    joined = ""
    if curve.basis == "trial":
        n_own = len(curve.batches)
        own = "its trial batch" if n_own == 1 else f"its {n_own} trial batches"
        joined = (
            f" Before the next curve is planned join the breaks of {own} to [prior] breaks: "
            f"{curve.promise.n_batches + n_own} earlier batches then stand behind its error figures."
        )
    return Section(
        "For the next curve",
        (
            Paragraph(
                "Before its checks the next trial batch of the mix was expected at the strength that this curve reads, "
                f"give or take {percent(found.sd_before)} (one standard deviation). After "
                f"{_pours_words(found.n_pours)} "
                f"it is expected {_beside_words(found.expected)}, give or take {percent(found.sd_after)}.{joined} "
                "A pour of which companions alone were broken fits no curve; with standard-cured breaks at the ages of "
                "the schedule it counts as an earlier batch too. The curve in "
                "force is never raised by that."
            ),
        ),
    )


def _beside_words(expected: float) -> str:
    """``8.2 % below it``."""
    return f"{percent(abs(expected))} {'below' if expected < 0 else 'above'} it"


def _pours_words(n_pours: int) -> str:
    return "one pour" if n_pours == 1 else f"{n_pours} pours"


def tonight_text(point: JudgedCheck) -> str:
    """Tonight's rule with its grounds."""
    if not point.grounds:
        return point.tonight.value
    return f"{point.tonight.value} ({', '.join(GROUND_WORDS[ground] for ground in point.grounds)})"


def _short_tonight(point: JudgedCheck) -> str:
    """The same for a cell of the table."""
    if not point.grounds:
        return point.tonight.value
    return f"{point.tonight.value}: {', '.join(SHORT_GROUNDS[ground] for ground in point.grounds)}"


def _table(answer: SiteAnswer) -> Table:
    unit, per_hour = maturity_unit(answer.curve.maturity)
    return Table(
        columns=(
            Column(heading="pour"),
            Column(heading="companions", is_wide_only=True),
            Column(heading=f"maturity, {unit}", is_number=True, is_wide_only=True),
            Column(heading="read, MPa", is_number=True),
            Column(heading="safe, MPa", is_number=True),
            Column(heading="broken, MPa", is_number=True),
            Column(heading="required, MPa", is_number=True),
            Column(heading="z", is_number=True),
            Column(heading="sum", is_number=True),
            Column(heading="tonight"),
            Column(heading="lasting"),
        ),
        rows=tuple(_row(point, per_hour) for point in answer.verdict.points),
        note="z: broken less read in standard deviations of a check; sum: one-sided running sum of shortfalls, in the "
        f"same unit, after the last companions of a pour, which count as one; beyond {CUSUM_LIMIT:g} the curve is "
        "withdrawn. What lies outside the range of the curve does not count. Tonight: companions, safe reading: below "
        f"the required strength; low: more than {percent(-LOW_Z * answer.check_sd, digits=0)} below read; outside: "
        "beyond the maturities or temperatures of the curve.",
    )


def _row(point: JudgedCheck, per_hour: float) -> tuple[str, ...]:
    item = point.check.companions
    return (
        words.clean(item.batch, limit=16),
        f"{item.n_specimens} at {companions_label(item.age_h, item.placement)}",
        maturity_number(item.maturity_h * per_hour),
        strength_words(item.read_mpa),
        safe_words(point.check.safe_mpa),
        strength_words(item.broken_mpa),
        strength_words(point.check.required_mpa),
        f"{point.z:+.2f}",
        f"{point.cusum_low:.1f}",
        _short_tonight(point),
        point.lasting.value,
    )


def _rules(answer: SiteAnswer) -> Section:
    return Section(
        "Rules",
        (
            Paragraph("Tonight. " + tonight_words(sd=answer.check_sd)),
            Paragraph("Lasting. " + lasting_words(sd=answer.check_sd)),
            Paragraph(curve_alarm_words(answer.curve, answer.alarms)),
            Paragraph(customary_words(answer.customary)),
        ),
    )
