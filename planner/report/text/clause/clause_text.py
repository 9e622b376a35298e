"""The whole clause: headings, numbered paragraphs, the table of what every number rests on."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Column, Facts, Paragraph, Section, Table
from planner.report.text.clause.calibration_paragraphs import calibration_paragraphs
from planner.report.text.clause.clause_paragraph import ClauseParagraph, ClauseSection, numbered
from planner.report.text.clause.clause_values import (
    AGE_ZERO_OPEN,
    AGE_ZERO_WORDS,
    deviation_words,
    mixes_words,
    read_geometry_words,
    strengths_words,
)
from planner.report.text.clause.site_paragraphs import check_paragraphs, paper_paragraphs, reading_paragraphs
from planner.terms.labels import age_label, digits_label, percent
from planner.terms.results.minimum.clause_terms import ClauseTerms

DRAFT_HEADING = "DRAFT FOR THE ENGINEER"
INTERIM_HEADING = "INTERIM DRAFT FOR THE ENGINEER: PROMISES NOTHING"
PRECEDENCE = (
    "Local standards, the project specification and the responsible engineer prevail over this clause. "
    "Maturity does not notice wrong, watered or frozen concrete: before a critical operation another test "
    "confirms that "
    "the concrete delivered is the concrete calibrated."
)


def clause_heading(clause: ClauseTerms) -> str:
    """What stands above the clause."""
    return INTERIM_HEADING if clause.kind == "interim" else DRAFT_HEADING


def clause_sections(clause: ClauseTerms) -> tuple[ClauseSection, ...]:
    """All headings with their paragraphs; () where no clause is drafted."""
    if clause.kind == "refused":
        return ()
    return numbered((
        ("Scope and definitions", _definitions(clause)),
        ("Calibration", calibration_paragraphs(clause)),
        ("Reading of pours", reading_paragraphs(clause)),
        ("Site checks", check_paragraphs(clause)),
        ("Records and payment", paper_paragraphs(clause)),
        ("Precedence", (_exempt("Precedence", PRECEDENCE),)),
    ))  # fmt: skip


def _exempt(subject: str, text: str, rests_on: str = "") -> ClauseParagraph:
    return ClauseParagraph(number="", subject=subject, party=None, duty=text, consequence="", rests_on=rests_on)


def _definitions(clause: ClauseTerms) -> tuple[ClauseParagraph, ...]:
    found = [
        _exempt(
            "Scope",
            f"Strength by maturity of {mixes_words(clause)}: {clause.strength_property} strength of "
            f"{read_geometry_words(clause)}, read at {', '.join(clause.targets)}.",
        ),
    ]
    if clause.kind == "interim":
        found.append(
            _exempt(
                "Interim",
                f"This clause is interim and promises nothing: {clause.interim_because}. It is replaced when a trial "
                "batch has been broken at these ages.",
            )
        )
    else:
        found.append(
            _exempt(
                "Target",
                f"A reading within {percent(clause.tolerance, digits=0)} of the strength of the same concrete, in "
                f"{percent(clause.assurance, digits=0)} of pours.",
                "tolerance and assurance of the plan",
            )
        )
    if clause.strength_mpa is not None:
        found.append(
            _exempt(
                "Strength level",
                f"The records behind this clause had {strengths_words(*clause.strength_mpa)} at the targets"
                f"{'' if clause.conversion is None else ', converted as below'}; for other levels it is no evidence.",
            )
        )
    return (
        *found,
        _exempt("Age zero", f"Ages count from {AGE_ZERO_WORDS.get(clause.age_zero, AGE_ZERO_OPEN)}."),
        _exempt(
            "Maturity", "What temperature over time does to strength, reckoned as the maturity function below says."
        ),
        _exempt(
            "Companion",
            "A specimen made of the same concrete as a trial batch or a pour and cured beside the work, under the same "
            "cover.",
        ),
        _exempt("Trial batch", "Concrete cast to calibrate: its curve is what the site reads."),
    )


def rationale_table(sections: tuple[ClauseSection, ...]) -> Table:
    """What the figures of every paragraph rest on."""
    rows = tuple(
        (paragraph.number, paragraph.subject, paragraph.rests_on)
        for section in sections
        for paragraph in section.paragraphs
        if paragraph.rests_on
    )
    return Table(columns=(Column(heading="no."), Column(heading="paragraph"), Column(heading="rests on")), rows=rows)


def clause_account(clause: ClauseTerms) -> tuple[Section, ...]:
    """The clause as an account: on a screen, in a mail."""
    if clause.kind == "refused":
        text = f"No clause is drafted: {words.clean(clause.refused_because)}"
        return (Section(clause_heading(clause), (Paragraph(text),)),)
    sections = clause_sections(clause)
    found = tuple(
        Section(
            f"{section.number} {section.heading}",
            (Facts(tuple((f"{part.number} {part.subject}", words.clean(part.text)) for part in section.paragraphs)),),
        )
        for section in sections
    )
    return (
        Section(clause_heading(clause), (Paragraph("What is drafted here, the engineer completes and decides."),)),
        *found,
        Section("What every number rests on", (rationale_table(sections),)),
    )


def ages_table(clause: ClauseTerms) -> Table:
    """The breaks of one trial batch as a table."""
    has_multiples = any(age.multiple is not None for age in clause.ages)
    rows = tuple(
        (
            age_label(age.age_h),
            words.NONE if age.permitted_deviation_h is None else deviation_words(age.permitted_deviation_h),
            str(age.n_specimens),
            *((words.NONE if age.multiple is None else digits_label(age.multiple, 2),) if has_multiples else ()),
        )
        for age in clause.ages
    )
    columns = (
        Column(heading="age"),
        Column(heading="permitted deviation"),
        Column(heading="specimens", is_number=True),
        *((Column(heading="times the earliest target's maturity", is_number=True),) if has_multiples else ()),
    )
    return Table(columns=columns, rows=rows)
