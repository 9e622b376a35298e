"""An issued curve for the laboratory: verdict, companions, fit, other curves, rules, cautions."""

from __future__ import annotations

import math

from planner.curves.fitted_strength import names_of_parameters
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.calibration.readings import HoursRow, TableRow
from planner.issued_curve.rules.acceptance import CompanionCheck
from planner.issued_curve.rules.rule_words import (
    acceptance_words,
    customary_words,
    lasting_words,
    tonight_words,
)
from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.report.text.curve_status_words import break_more_words, curve_alarm_words, status_words
from planner.report.text.curve_words import (
    LEARNT_FIT,
    assurance_words,
    companions_label,
    conversion_facts,
    formula_words,
    lack_of_fit_words,
    maturity_name,
    maturity_number,
    parameter_words,
    reckoning_words,
    rests_on_words,
    valid_words,
)
from planner.terms.labels import age_label, percent
from planner.terms.plan.settings import PRIOR_CURVE_NAMES

HOURS_NOTE = (
    "At one constant concrete temperature, to plan who comes in when: no reading. A dash: beyond the maturities of the "
    "breaks, or no safe reading."
)


def curve_account(issue: Issue) -> tuple[Section, ...]:
    """Everything a laboratory needs before it hands the sheet out."""
    sections = (
        _answer(issue),
        *_cautions(issue),
        _table(issue),
        _companions(issue),
        _fit(issue),
        _rules(issue),
        Section("Always", (Bullets(tuple(words.clean(text) for text in issue.standing_cautions)),)),
    )
    return tuple(section for section in sections if section.blocks)


def _cautions(issue: Issue) -> tuple[Section, ...]:
    """What a reading of the curve must mind: it stands before the first strength."""
    told = tuple((caution.code, words.clean(caution.text)) for caution in issue.cautions)
    return (Section("Before using it", (Facts(told),)),) if told else ()


def strength_words(value: float | None) -> str:
    """A strength with one decimal, a dash where there is none."""
    return words.NONE if value is None else f"{value:.1f}"


def safe_words(value: float | None) -> str:
    """A safe reading with one decimal, rounded down; a dash where it is refused."""
    return words.NONE if value is None else f"{math.floor(value * 10 + 1e-9) / 10:.1f}"


def hours_words(value: float | None, *, is_waited_for: bool = False) -> str:
    """Hours with one decimal, rounded up where they are waited for; a dash where they cannot be given."""
    if value is None:
        return words.NONE
    return f"{math.ceil(value * 10 - 1e-9) / 10:.1f}" if is_waited_for else f"{value:.1f}"


def _answer(issue: Issue) -> Section:
    curve = issue.curve
    replaced = "" if curve.supersedes is None else f", supersedes {curve.supersedes}"
    facts = (
        ("number", f"{curve.number}{replaced}"),
        ("rests on", rests_on_words(issue)),
        *conversion_facts(curve),
        ("maturity", f"{maturity_name(curve.maturity)}: {reckoning_words(curve.maturity)[0]}"),
        *((f"curve {place}", line) for place, line in enumerate(formula_words(curve), start=1)),
        *((f"valid: {term}", said) for term, said in valid_words(curve)),
    )
    blocks: list[Block] = [Paragraph(status_words(issue), is_strong=True)]
    more = break_more_words(issue)
    if more:
        blocks.append(Paragraph(more, is_strong=True))
    return Section(words.clean(curve.title, limit=120) or "Issued curve", (*blocks, Facts(facts)))


def _table(issue: Issue) -> Section:
    curve = issue.curve
    unit, per_hour = maturity_unit(curve.maturity)
    columns = (
        Column(heading=f"{maturity_name(curve.maturity)}, {unit}", is_number=True),
        Column(heading="strength read, MPa", is_number=True),
        Column(heading="safe reading, MPa", is_number=True),
    )
    rows = tuple(_table_row(row, per_hour) for row in issue.table)
    readings = Table(
        columns=(Column(heading="target, standard-cured"), *columns),
        rows=tuple(
            (
                age_label(reading.age_h) + ("" if reading.is_inside else " (outside)"),
                maturity_number(reading.maturity_h * per_hour),
                strength_words(reading.strength_mpa),
                safe_words(reading.safe_mpa),
            )
            for reading in issue.readings
        ),
    )
    return Section(
        "Readings",
        (
            readings,
            Table(columns=columns, rows=rows, note=assurance_words(curve)),
            hours_table(issue.hours),
        ),
    )


def hours_table(hours: tuple[HoursRow, ...]) -> Table:
    """When strengths are there at constant temperatures."""
    return Table(
        columns=(
            Column(heading="strength, MPa", is_number=True),
            Column(heading="concrete, C", is_number=True),
            Column(heading="earliest, h", is_number=True),
            Column(heading="likely, h", is_number=True),
            Column(heading="safe, h", is_number=True),
        ),
        rows=tuple(
            (
                f"{row.strength_mpa:g}",
                f"{row.temperature_c:.0f}",
                hours_words(row.earliest_h),
                hours_words(row.likely_h),
                hours_words(row.safe_h, is_waited_for=True),
            )
            for row in hours
        ),
        note=HOURS_NOTE,
    )


def _table_row(row: TableRow, per_hour: float) -> tuple[str, ...]:
    return (
        maturity_number(row.maturity_h * per_hour),
        strength_words(row.strength_mpa),
        safe_words(row.safe_mpa),
    )


def _companions(issue: Issue) -> Section:
    accepted = issue.acceptance
    heading = "Companions on site against the curve of their own batch"
    if not issue.fits:
        return Section(heading, ())
    if accepted is None or not accepted.checks:
        return Section(heading, (Paragraph("No site-cured companions were broken or judged."),))
    n_judged = max(sum(check.is_judged for check in accepted.checks), 1)
    blocks: list[Block] = [companions_table(issue)]
    if accepted.mean_difference is not None:
        blocks.append(
            Paragraph(
                f"Mean difference at the targets {percent(accepted.mean_difference, is_signed=True)}, tolerance "
                f"{percent(accepted.tolerance, digits=0)}."
            )
        )
    blocks.append(
        Paragraph(
            acceptance_words(
                tolerance=accepted.tolerance,
                n_groups=n_judged,
                z_limit=accepted.z_limit,
                own_rms=accepted.own_rms,
                sound_refused_at_most=accepted.sound_refused_at_most,
            )
        )
    )
    return Section(heading, tuple(blocks))


def companions_table(issue: Issue) -> Table:
    """Every group of companions beside the reading at its own maturity."""
    unit, per_hour = maturity_unit(issue.curve.maturity)
    checks = () if issue.acceptance is None else issue.acceptance.checks
    return Table(
        columns=(
            Column(heading="companions"),
            Column(heading="n", is_number=True),
            Column(heading=f"maturity, {unit}", is_number=True),
            Column(heading="read, MPa", is_number=True),
            Column(heading="broken, MPa", is_number=True),
            Column(heading="difference", is_number=True),
            Column(heading="z", is_number=True),
            Column(heading="judged"),
        ),
        rows=tuple(_companions_row(check, per_hour, len(issue.fits)) for check in checks),
        note="difference: broken over read less 1, below nought weaker than read; z: in standard deviations of chance.",
    )


def _companions_row(check: CompanionCheck, per_hour: float, n_batches: int) -> tuple[str, ...]:
    item = check.companions
    name = companions_label(item.age_h, item.placement)
    if n_batches > 1:
        name = f"{words.clean(item.batch, limit=16)}, {name}"
    judged = (
        "outside the breaks" if not check.is_judged else "as chance explains" if check.is_within_limit else "BEYOND"
    )
    if check.is_judged and not check.is_inside_tolerance:
        judged += ", beyond tolerance"
    return (
        name,
        str(item.n_specimens),
        maturity_number(item.maturity_h * per_hour),
        strength_words(item.read_mpa),
        strength_words(item.broken_mpa),
        percent(item.difference, is_signed=True),
        f"{check.z:+.2f}",
        judged,
    )


def _fit(issue: Issue) -> Section:
    curve = issue.curve
    if not issue.fits or curve.curve == "records":  # scaled down, or the mean of the records: nothing was fitted
        return Section("Fit", ())
    blocks: list[Block] = []
    for fit, fitted, others in zip(issue.fits, curve.batches, issue.others, strict=True):
        named = tuple(
            name.removesuffix("_mpa").replace("_", " ") if "mean_" in name else name
            for name in names_of_parameters(curve.curve, len(fitted.parameters))
        )
        is_learnt = curve.curve in PRIOR_CURVE_NAMES
        how_well = LEARNT_FIT if is_learnt else lack_of_fit_words(fit.lack_of_fit)
        if curve.curve == "population prior":  # the other numbers are those of the earlier batches
            named = named[: len(named) - len(fitted.knots_h)]
        batch = words.clean(fitted.batch, limit=24)
        blocks.append(
            Paragraph(
                f"{batch}: {parameter_words(fitted, named)} (t in h at the reference temperature). The curve "
                f"{how_well}."
            )
        )
        blocks.append(
            Table(
                columns=(
                    Column(heading=f"curve on {batch}"),
                    Column(heading="RMS departure", is_number=True),
                    *(Column(heading=f"{age_label(age)}, MPa", is_number=True) for age in curve.target_ages_h),
                ),
                rows=tuple(
                    (other.curve, percent(other.rms_departure), *(strength_words(value) for value in other.read_mpa))
                    for other in sorted(others, key=lambda other: other.curve != curve.curve)
                ),
                n_marked=1,
                note="Readings of the targets, standard-cured. How well a curve fits its own means is no error of it.",
            )
        )
    return Section("Fit", tuple(blocks))


def _rules(issue: Issue) -> Section:
    if issue.check_sd is None or issue.alarms is None or issue.customary is None:
        return Section("Site checks", ())
    return Section(
        "Site checks",
        (
            Paragraph("Tonight. " + tonight_words(sd=issue.check_sd)),
            Paragraph("Lasting. " + lasting_words(sd=issue.check_sd)),
            Paragraph(curve_alarm_words(issue.curve, issue.alarms)),
            Paragraph(customary_words(issue.customary)),
        ),
    )
