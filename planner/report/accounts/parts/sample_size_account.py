"""How many specimens are enough, or why none are, in a section."""

from __future__ import annotations

from itertools import pairwise

from planner.report.accounts.parts.comparison import BEATEN_WORDS, short_schedule, unbroken_schedule
from planner.report.text import words
from planner.report.text.blocks import Block, Column, Paragraph, Section, SectionId, Table
from planner.report.text.plain_blocks import NO_BREAK
from planner.terms.results.programme_figures import Programme, Spending
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.sample_size import Enough

HEADING = "How many specimens are enough"


def enough_section(advice: Recommendation) -> Section:
    """The verdict, what each count gives, and what several trial batches would."""
    verdict = advice.sufficiency
    if verdict is None:
        return Section(HEADING, (), SectionId.ENOUGH)
    blocks: list[Block] = [Paragraph(words.clean(verdict.sentence))]
    if advice.spending is not None:
        blocks += [*_money(advice.spending), _programme_table(advice.spending, advice.currency)]
    if verdict.steps:
        blocks.append(_step_table(verdict))
    if verdict.by_trial_batches:
        blocks.append(_trial_table(verdict))
    return Section(HEADING, tuple(blocks), SectionId.ENOUGH)


def _money(spending: Spending) -> list[Paragraph]:
    share = words.whole_share(spending.score_from_other_schedules / spending.score) if spending.score > 0 else "none"
    texts = (
        spending.judged_because,
        " ".join(spending.sentences),
        f"Of the score that ranks ages and curve, {share} is what other schedules and site-cured companions say of the "
        "curve and its constants; the rest is this schedule's own error and scatter.",
    )
    return [Paragraph(words.clean(text)) for text in texts if text]


def _programme_table(spending: Spending, currency: str) -> Table:
    """The frontier: error against money for every number of trial batches."""
    has_cost = any(programme.cost is not None for programme in spending.programmes)
    columns = (
        Column(heading="trial batches", is_number=True),
        Column(heading="specimens in all", is_number=True),
        Column(heading="each trial batch"),
        Column(heading="own batch RMS", is_number=True),
        Column(heading="later pour RMS", is_number=True),
        Column(heading="inside", is_number=True),
        *((Column(heading=words.clean(currency, limit=8), is_number=True),) if has_cost else ()),
        Column(heading=""),
    )
    rows = tuple(
        (
            str(programme.n_trial_batches),
            str(programme.n_specimens),
            short_schedule(programme.schedule).replace(" ", NO_BREAK),
            words.share(programme.own_batch_rms),
            words.share(None if programme.next_batch is None else programme.next_batch.rms),
            words.whole_share(_share_inside(spending, programme)),
            *(("" if programme.cost is None else f"{programme.cost:.0f}",) if has_cost else ()),
            programme_role(spending, programme),
        )
        for programme in spending.programmes
    )
    note = (
        f"Fixed programmes, judged on {spending.judged_on}s of the records that had no part in fitting them, not "
        "corrected for choosing; the recommended one apart, of as many trial batches every line errs less than the "
        "cheaper ones above it."
    )
    if any(programme.beaten_by is not None for programme in spending.programmes):
        note += f" beaten: {BEATEN_WORDS}."
    return Table(columns=columns, rows=rows, note=note.replace("own batchs", "own batches"))


def _share_inside(spending: Spending, programme: Programme) -> float:
    if spending.judged_on == "own batch" or programme.next_batch is None:
        return programme.own_batch_within_tolerance
    return programme.next_batch.within_tolerance


def programme_role(spending: Spending, programme: Programme) -> str:
    """The part a programme plays, in a word; "" where it plays none."""
    if programme == spending.recommended:
        return "recommended"
    if programme == spending.best:
        return "lowest within limits"
    if not programme.is_within_limits:
        return "beyond the limits"
    if programme.beaten_by is not None:
        return "beaten"
    return "tied" if programme.is_tied else ""


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
                words.lower_bound(step.within_tolerance_lower_95),
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
