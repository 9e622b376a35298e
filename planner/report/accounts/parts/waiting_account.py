"""When strengths that the site waits for will be there, in a section. For planning who comes in when."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.terms.labels import age_label, digits_label, listed, strength_label
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.waiting import Wait, Waiting

MOST_NAMED, MOST_NAME = 8, 20  # batches named, and characters of a name
HEADING = "When the strength will be there (to plan who comes in when; it is no reading of a pour)"


def waiting_section(advice: Recommendation) -> Section:
    """Hours at constant temperatures, and the error in hours; nothing below the heading where only ages are asked."""
    answer = advice.waiting
    if answer is None:
        return Section(HEADING, ())
    return Section(HEADING, (_table(answer), Bullets(tuple(_error_words(wait, answer) for wait in answer.waits))))


def _table(answer: Waiting) -> Table:
    rows = tuple(
        (
            strength_label(wait.strength_mpa),
            f"{at.temperature_c:g}",
            _hours(at.earliest_h),
            _hours(at.likely_h),
            _hours(at.safe_h),
        )
        for wait in answer.waits
        for at in wait.hours
    )
    columns = (
        Column(heading="strength"),
        Column(heading="concrete, C", is_number=True),
        Column(heading="earliest, h", is_number=True),
        Column(heading="likely, h", is_number=True),
        Column(heading="safe, h", is_number=True),
    )
    note = (
        f"From the mean curve of {answer.n_curves} earlier batches at a constant temperature inside the concrete. "
        "-: outside the recommended break ages."
    )
    if answer.safe_factor is None:
        return Table(columns=columns, rows=rows, note=f"{note} No safe reading can be given, so no safe hour.")
    assured = words.whole_share(1.0 - answer.assurance)
    return Table(
        columns=columns,
        rows=rows,
        note=f"{note} safe: the curve then reads {words.factor(answer.safe_factor)} times the strength, and {assured} "
        "of pours may still be weaker; earliest: a pour as much stronger than typical.",
    )


def _hours(hours: float | None) -> str:
    return "-" if hours is None else f"{hours:.1f}"


def _error_words(wait: Wait, answer: Waiting) -> str:
    label = strength_label(wait.strength_mpa)
    later = "" if wait.later_rms_h is None else f"{digits_label(wait.later_rms_h, 2)} h on a later pour, "
    own = "unknown" if wait.own_rms_h is None else f"{digits_label(wait.own_rms_h, 2)} h on the own batch"
    text = (
        f"{label}: typically there at {age_label(wait.age_h)} under standard curing; called too early or too late by "
        f"{later}{own} (RMS, hours at {answer.reference_c:g} C). Judged on {wait.n_batches} batches"
    )
    if wait.interpolation_rms is not None:
        text += (
            f"; the truth is read between two breaks, which misses the growth between them by about "
            f"{words.share(wait.interpolation_rms)} of strength"
        )
    if wait.left_out:
        text += f". Not broken on both sides of it, not used: {_batches(wait.left_out)}"
    if wait.left_out_elsewhere:
        text += f". Not used, since another target cannot be judged on it: {_batches(wait.left_out_elsewhere)}"
    return f"{text}."


def _batches(names: tuple[str, ...]) -> str:
    return listed((words.clean(name, limit=MOST_NAME) for name in names), most=MOST_NAMED)
