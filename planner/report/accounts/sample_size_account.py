"""How many specimens are enough, or why none are, in a section."""

from __future__ import annotations

from itertools import pairwise

from planner.report.accounts.comparison import unbroken_schedule
from planner.report.text import words
from planner.report.text.blocks import Block, Column, Paragraph, Section, SectionId, Table
from planner.terms.recommendation import Recommendation
from planner.terms.sample_size import Enough

HEADING = "How many specimens are enough"


def enough_section(told: Recommendation) -> Section:
    """The verdict, what each count gives, and what several trial batches would."""
    verdict = told.sufficiency
    if verdict is None:
        return Section(HEADING, (), SectionId.ENOUGH)
    blocks: list[Block] = [Paragraph(words.clean(verdict.sentence))]
    if verdict.steps:
        blocks.append(_step_table(verdict))
    if verdict.by_trial_batches:
        blocks.append(_trial_table(verdict))
    return Section(HEADING, tuple(blocks), SectionId.ENOUGH)


def _step_table(verdict: Enough) -> Table:
    columns = (
        Column(heading="specimens at most", is_number=True),
        Column(heading="what the rule takes"),
        Column(heading="RMS error", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="lower 95 %", is_number=True),
    )
    rows = _different(
        tuple(
            (
                str(step.most_specimens),
                unbroken_schedule(step.schedule),
                words.share(step.rms),
                words.whole_share(step.within_tolerance),
                words.whole_share(step.within_tolerance_lower_95),
            )
            for step in verdict.steps
        )
    )
    note = (
        f"Basis: {words.basis_words(verdict.basis)} errors, judged on batches that did not choose; inside: "
        f"share within {words.share(verdict.tolerance)}."
    )
    if any(one[1] == other[1] for one, other in pairwise(rows)):
        note += " One schedule may stand twice: without a batch the rule takes others, and those are judged."
    return Table(columns=columns, rows=rows, note=note)


def _different(rows: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
    """Rows that say something else than the one before, their limit apart."""
    before = ((), *rows)
    return tuple(row for row, earlier in zip(rows, before, strict=False) if row[1:] != earlier[1:])


def _trial_table(verdict: Enough) -> Table:
    columns = (
        Column(heading="trial batches", is_number=True),
        Column(heading="specimens in all", is_number=True),
        Column(heading="RMS error, later pour", is_number=True),
        Column(heading="inside, projected", is_number=True),
    )
    rows = tuple(
        (
            str(step.n_trial_batches),
            str(step.n_specimens),
            words.share(step.rms),
            words.whole_share(step.within_tolerance),
        )
        for step in verdict.by_trial_batches
    )
    return Table(columns=columns, rows=rows)
