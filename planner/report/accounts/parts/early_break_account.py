"""What each later pour breaks before it is read, in a section: after casting, optional."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.terms.labels import trial_batches_label
from planner.terms.plan.early_breaks import PourReading
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommended.recommendation import Recommendation

HEADING = "After casting, optional: what each pour breaks before it is read"
READ_BY: dict[PourReading, str] = {
    "records": "records",
    "records and trial": "records and trial",
    "rescaled": "trial curve, shifted",
}
N_RIVAL = 2  # sentences on reading with nothing cast and nothing broken


def early_break_section(advice: Recommendation) -> Section:
    """The sentences and the table; nothing below the heading where the plan foresees no early breaks."""
    answer = advice.early_breaks
    if answer is None:
        return Section(HEADING, ())
    said = tuple(words.clean(sentence) for sentence in answer.sentences)
    if not answer.rows:
        return Section(HEADING, (Bullets(said),))
    # what nothing new would read, and when that may not be done, stands before what more would do
    tables = [_table(answer, advice)]
    if len(answer.by_trials) > 1:
        tables.append(_trials_table(answer, advice))
    return Section(HEADING, (Bullets(said[:N_RIVAL]), *tables, Bullets(said[N_RIVAL:])))


def _table(answer: EarlyBreaks, advice: Recommendation) -> Table:
    has_money = any(row.cost_per_pour is not None for row in answer.rows)
    has_number = any(row.cost_of_pours is not None for row in answer.rows)
    has_all = any(row.cost_of_calibration is not None for row in answer.rows)
    columns = (
        Column(heading="each pour breaks"),
        Column(heading="RMS error", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="over", is_number=True),
        Column(heading=f"{words.whole_share(advice.assurance)} within", is_number=True),
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
    return Table(columns=columns, rows=rows, note=_note(answer, advice))


def _trials_table(answer: EarlyBreaks, advice: Recommendation) -> Table:
    """The same early specimens with every number of trial batches."""
    assert answer.recommended is not None  # there are rows
    n_early = answer.rows[answer.recommended].n_specimens
    rows = [row for rows in answer.by_trials for row in rows if row.n_specimens == n_early]
    has_money = any(row.cost_of_calibration is not None for row in rows)
    has_all = any(row.cost_in_all is not None for row in rows)
    return Table(
        columns=(
            Column(heading="trial batches", is_number=True),
            Column(heading="each pour breaks"),
            Column(heading="read by"),
            Column(heading="RMS error", is_number=True),
            Column(heading=f"{words.whole_share(advice.assurance)} within", is_number=True),
            *((Column(heading="calibration", is_number=True),) if has_money else ()),
            *((Column(heading="with all pours", is_number=True),) if has_all else ()),
        ),
        rows=tuple(
            (
                str(row.n_trial_batches),
                row.label,
                READ_BY[row.reading],
                words.share(row.rms) + (words.FLOOR_MARK if row.is_below_resolution else ""),
                words.share(row.reads_within),
                *((words.money(row.cost_of_calibration, answer.currency),) if has_money else ()),
                *((words.money(row.cost_in_all, answer.currency),) if has_all else ()),
            )
            for row in rows
        ),
        note="Trial batches of the recommended schedule. Every number is judged with as many earlier batches kept out "
        "of what is learnt; what they would have told is put back by the model's own variance.",
    )


def _note(answer: EarlyBreaks, advice: Recommendation) -> str:
    first = answer.rows[0]
    cast = trial_batches_label(first.n_trial_batches)
    read = {
        "records": "read from the earlier batches and the pour's own breaks",
        "records and trial": f"read from the earlier batches, {cast} and the pour's own breaks",
        "rescaled": f"read off the curve of {cast}, shifted to the pour's own breaks",
    }[first.reading]
    assured = words.whole_share(advice.assurance)
    note = (
        f"Later pour, {read}; judged by {answer.n_batches} earlier batches, each held out as the pour, its best ages "
        f"among {answer.n_plans} plans chosen by the others. inside: pours within {words.share(advice.tolerance)} "
        "at every target; over: over-predicted by more; safe factor: what the reading must be times the strength "
        f"needed, so that {assured} of pours have it; trial curve: RMS error of the recommended schedule's curve, of "
        f"{trial_batches_label(max(1, first.n_trial_batches))}, shifted to the same breaks. A break serves only the "
        "targets after it."
    )
    return note + (f" {words.FLOOR_NOTE}" if any(row.is_below_resolution for row in answer.rows) else "")
