"""What each later pour breaks before it is read, in a section: after casting, optional."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommendation import Recommendation

HEADING = "After casting, optional: what each pour breaks before it is read"
N_RIVAL = 2  # sentences on reading with nothing cast and nothing broken


def early_break_section(told: Recommendation) -> Section:
    """The sentences and the table; nothing below the heading where the plan foresees no early breaks."""
    answer = told.early_breaks
    if answer is None:
        return Section(HEADING, ())
    said = tuple(words.clean(sentence) for sentence in answer.sentences)
    if not answer.rows:
        return Section(HEADING, (Bullets(said),))
    # what nothing new would read, and when that may not be done, stands before what more would do
    return Section(HEADING, (Bullets(said[:N_RIVAL]), _table(answer, told), Bullets(said[N_RIVAL:])))


def _table(answer: EarlyBreaks, told: Recommendation) -> Table:
    has_money = any(row.cost_per_pour is not None for row in answer.rows)
    has_number = any(row.cost_of_pours is not None for row in answer.rows)
    has_all = any(row.cost_of_calibration is not None for row in answer.rows)
    columns = (
        Column(heading="each pour breaks"),
        Column(heading="RMS error", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="over", is_number=True),
        Column(heading=f"{words.whole_share(told.assurance)} within", is_number=True),
        Column(heading="safe factor", is_number=True),
        Column(heading="trial curve", is_number=True, is_wide_only=True),
        *((Column(heading="calibration", is_number=True, is_wide_only=True),) if has_all else ()),
        *((Column(heading="per pour", is_number=True),) if has_money else ()),
        *((Column(heading=f"{answer.n_pours} pours", is_number=True),) if has_number else ()),
    )
    rows = tuple(
        (
            row.label,
            words.share(row.rms) + (words.FLOOR_MARK if row.is_below_resolution else ""),
            words.whole_share(row.within_tolerance),
            words.whole_share(row.over_predicted_beyond_tolerance),
            words.share(row.reads_within),
            words.factor(row.safe_reading_factor),
            words.share(row.rms_rescaled),
            *((words.money(row.cost_of_calibration, answer.currency),) if has_all else ()),
            *((words.money(row.cost_per_pour, answer.currency),) if has_money else ()),
            *((words.money(row.cost_of_pours, answer.currency),) if has_number else ()),
        )
        for row in answer.rows
    )
    return Table(columns=columns, rows=rows, note=_note(answer, told))


def _note(answer: EarlyBreaks, told: Recommendation) -> str:
    read = {
        "records": "read from the earlier batches and the pour's own breaks",
        "records and trial": "read from the earlier batches, one trial batch and the pour's own breaks",
    }[answer.rows[0].reading]
    assured = words.whole_share(told.assurance)
    note = (
        f"Later pour, {read}; judged by {answer.n_batches} earlier batches, each held out as the pour, its best ages "
        f"among {answer.n_plans} plans chosen by the others. inside: readings within {words.share(told.tolerance)}; "
        "over: over-predicted by more; safe factor: what the reading must be times the strength needed, so that "
        f"{assured} of pours have it; trial curve: RMS error of the recommended schedule's curve shifted to the same "
        "breaks. A break serves only the targets after it."
    )
    return note + (f" {words.FLOOR_NOTE}" if any(row.is_below_resolution for row in answer.rows) else "")
