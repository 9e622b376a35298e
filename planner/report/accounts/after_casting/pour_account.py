"""One pour read from its own early breaks: the reading first, then the table, the breaks, what to know."""

from __future__ import annotations

from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.pour_answer import PourAnswer, PourRow, Unread
from planner.report.accounts.after_casting.curve_account import safe_words, strength_words
from planner.report.text import words
from planner.report.text.blocks import Block, Column, Facts, Paragraph, Section, Table
from planner.report.text.curve_words import companions_label, maturity_name, maturity_number
from planner.terms.labels import age_label, percent
from planner.terms.results.after_casting.pour_model import PourModel

UNREAD_WORDS = {
    Unread.STRANGER: "stranger",
    Unread.NO_BREAK_BEFORE: "no early break before",
    Unread.RECORD_ENDS: "record ends before",
    Unread.OUTSIDE_MATURITY: "outside the records",
    Unread.OUTSIDE_CURVE: "outside the curve",
    Unread.NOT_JUDGED: "breaks not judged",
}


def pour_account(answer: PourAnswer) -> tuple[Section, ...]:
    """What the pour is read at, first."""
    sections = [_readings(answer)]
    if answer.table:
        sections.append(Section("By maturity", (_table(answer),)))
    sections.append(Section("Early breaks", (_early(answer), Facts(_rests_on(answer)))))
    pairs = tuple((caution.code, words.clean(caution.text)) for caution in answer.cautions)
    sections.append(Section("Before using it", (Facts(pairs),)))
    return tuple(sections)


def headline(answer: PourAnswer) -> str:
    """The one sentence."""
    pour = words.clean(answer.pour, limit=24)
    if answer.is_stranger:
        return f"Pour {pour} is a STRANGER to the earlier batches: no strength may be read."
    read = [row for row in answer.rows if row.is_target and row.strength_mpa is not None]
    if not read:
        return f"Pour {pour} is not read at any target."
    text = "; ".join(
        f"{companions_label(row.age_h, row.placement)} {strength_words(row.strength_mpa)} MPa, "
        + ("no safe reading" if row.safe_mpa is None else f"safe reading {safe_words(row.safe_mpa)} MPa")
        for row in read
    )
    return f"Pour {pour} reads {text}."


def _readings(answer: PourAnswer) -> Section:
    assured = words.whole_share(answer.curve.promise.assurance)
    unit, _ = maturity_unit(answer.curve.maturity)
    blocks: list[Block] = [Paragraph(headline(answer), is_strong=True)]
    blocks.append(
        Table(
            columns=(
                Column(heading="read at"),
                Column(heading=f"maturity, {unit}", is_number=True),
                Column(heading="concrete", is_number=True, is_wide_only=True),
                Column(heading="curve alone, MPa", is_number=True),
                Column(heading="this pour, MPa", is_number=True),
                Column(heading=f"{assured} lie in, MPa", is_number=True, is_wide_only=True),
                Column(heading="safe reading, MPa", is_number=True),
            ),
            rows=tuple(_row(answer, row) for row in answer.rows),
            note=f"Maturity: {maturity_name(answer.curve.maturity)}. Safe reading: to compare with the strength "
            "required; "
            f"{assured} of pours with such early breaks have it or more. No reading is a permission.",
        )
    )
    return Section(f"Pour read with curve {answer.curve.number} and its own early breaks", tuple(blocks))


def _row(answer: PourAnswer, row: PourRow) -> tuple[str, ...]:
    _, per_hour = maturity_unit(answer.curve.maturity)
    at = companions_label(row.age_h, row.placement) if row.is_target else f"{row.age_h:.4g} h, record ends"
    if not row.is_target and row.placement:
        at += f", {words.clean(row.placement, limit=24)}"
    read = strength_words(row.strength_mpa) if row.why_not is None else UNREAD_WORDS[row.why_not]
    between = words.NONE
    if row.interval_mpa is not None:
        between = " to ".join(strength_words(value) for value in row.interval_mpa)
    return (
        at,
        words.NONE if row.maturity_h is None else maturity_number(row.maturity_h * per_hour),
        words.NONE if row.temperature_c is None else f"{row.temperature_c:.1f} C",
        strength_words(row.curve_mpa),
        read,
        between,
        safe_words(row.safe_mpa),
    )


def _table(answer: PourAnswer) -> Table:
    unit, per_hour = maturity_unit(answer.curve.maturity)
    return Table(
        columns=(
            Column(heading=f"{maturity_name(answer.curve.maturity)}, {unit}", is_number=True),
            Column(heading="curve alone, MPa", is_number=True),
            Column(heading="this pour, MPa", is_number=True),
            Column(heading="safe reading, MPa", is_number=True),
        ),
        rows=tuple(
            (
                maturity_number(row.maturity_h * per_hour),
                strength_words(row.curve_mpa),
                strength_words(row.strength_mpa),
                safe_words(row.safe_mpa),
            )
            for row in answer.table
        ),
    )


def _early(answer: PourAnswer) -> Table:
    unit, per_hour = maturity_unit(answer.curve.maturity)
    return Table(
        columns=(
            Column(heading="age"),
            Column(heading="cured"),
            Column(heading="specimens", is_number=True),
            Column(heading=f"maturity, {unit}", is_number=True),
            Column(heading="mean, MPa", is_number=True),
        ),
        rows=tuple(
            (
                age_label(cell.age_h),
                cell.curing,
                str(cell.n_specimens),
                maturity_number(cell.maturity_h * per_hour),
                strength_words(cell.mean_mpa),
            )
            for cell in answer.early
        ),
    )


def _rests_on(answer: PourAnswer) -> tuple[tuple[str, str], ...]:
    test, model = answer.strangeness, answer.curve.pour_model
    assert model is not None  # a pour is read by it
    verdict = {True: "a stranger", False: "like them", None: "cannot be told"}[test.is_stranger]
    return (
        ("read by", _reading_words(model)),
        (
            "like the earlier batches",
            f"{verdict}: F {test.distance:.2f}, 99 % point {test.limit:.2f} ({test.n_means} and {test.n_batches - 1} "
            f"degrees of freedom); a deficit of {percent(test.noticed_deficit, digits=0)} would be noticed 9 times in "
            "10",
        ),
        (
            "batches differ",
            f"by {percent(model.scale_sd)} in strength and {percent(model.rate_sd)} in rate (standard deviations); "
            f"held-out pours were {model.widening**0.5:.2f} times as far off as that states, and so wide is the law",
        ),
    )


def _reading_words(model: PourModel) -> str:
    earlier = f"{model.n_batches} earlier batches"
    if model.reading == "records":
        return f"{earlier} and the pour's own breaks (the trial batch reads no better on held-out pours)"
    trial = "trial batch" if len(model.trials) == 1 else "trial batches"
    if model.reading == "rescaled":
        return (
            f"the curve of the {trial}, multiplied by what the pour's own breaks are of its readings (that was best on "
            f"{earlier} held out as pours)"
        )
    return f"{earlier}, the {trial} and the pour's own breaks"
