"""The trial batch after its first breaks, and the tables of what to do after a first break."""

from __future__ import annotations

from dataclasses import replace

from planner.report.accounts.after_casting.curve_account import strength_words
from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Paragraph, Section, Table
from planner.terms.labels import age_label, percent, schedule_label
from planner.terms.results.after_casting.continuing import IfThenBand, IfThenTable, TrialAnswer
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.terms.results.recommended.recommendation import Recommendation

ACTION_WORDS = {
    "go on": "Go on as planned",
    "add": "Add specimens",
    "move": "Move the later breaks",
    "stop": "STOP and look for what went wrong",
}


def trial_section(advice: Recommendation) -> Section:
    """What to do with the trial batch now; nothing below the heading where none is given."""
    trial = advice.trial
    if trial is None:
        return Section("Trial batch", ())
    blocks: list[Block] = [
        Paragraph(_headline(trial), is_strong=True),
        _broken_table(trial, _note_of_means(advice)),
        Bullets(tuple(words.clean(reason) for reason in trial.why)),
    ]
    return Section(f"Trial batch {words.clean(trial.batch, limit=24)} after its first breaks", tuple(blocks))


def _headline(trial: TrialAnswer) -> str:
    remaining = (
        "nothing remains to be broken" if trial.remaining is None else f"break {schedule_label(trial.remaining)}"
    )
    if trial.action == "stop":
        return f"{ACTION_WORDS['stop']}. If nothing is found: {remaining}, as planned."
    return f"{ACTION_WORDS[trial.action]}: {remaining}."


def _note_of_means(advice: Recommendation) -> str:
    plain = "Earlier batches: their mean curve at the same maturity (hours at the reference temperature)."
    conversion = None if advice.geometries is None else advice.geometries.conversion
    if conversion is None:
        return plain
    return f"{plain} Strengths are converted from {conversion.from_geometry} to {conversion.to_geometry}."


def _broken_table(trial: TrialAnswer, note: str) -> Table:
    return Table(
        columns=(
            Column(heading="broken at"),
            Column(heading="specimens", is_number=True),
            Column(heading="maturity, h", is_number=True),
            Column(heading="mean, MPa", is_number=True),
            Column(heading="earlier batches, MPa", is_number=True),
            Column(heading="departs", is_number=True),
        ),
        rows=tuple(
            (
                age_label(mean.age_h),
                str(mean.n_specimens),
                f"{mean.maturity_h:.1f}",
                strength_words(mean.mean_mpa),
                strength_words(mean.expected_mpa),
                percent(mean.mean_mpa / mean.expected_mpa - 1.0, is_signed=True),
            )
            for mean in trial.broken
        ),
        note=note,
    )


def if_then_section(advice: Recommendation) -> Section:
    """Both tables; nothing below the heading where the records do not carry them."""
    answer = advice.if_then
    conversion = None if advice.geometries is None else advice.geometries.conversion
    blocks: list[Block] = []
    if answer is not None and answer.trial is not None:
        blocks.append(_table(_as_broken(answer.trial, conversion), _of(conversion, "trial batch")))
    if answer is not None and answer.pour is not None:
        blocks.append(_table(_as_broken(answer.pour, conversion), _of(conversion, "each pour")))
    return Section("Laid down before casting: what to do after the first break", tuple(blocks))


def _as_broken(table: IfThenTable, conversion: ConversionFigures | None) -> IfThenTable:
    """A first mean is compared as the specimens show it, before anything is converted."""
    if conversion is None:
        return table

    def back(read_mpa: float | None) -> float | None:
        return None if read_mpa is None else conversion.back(read_mpa)

    bands = tuple(replace(band, low_mpa=back(band.low_mpa), high_mpa=back(band.high_mpa)) for band in table.bands)
    return replace(table, bands=bands, expected_mpa=conversion.back(table.expected_mpa))


def _of(conversion: ConversionFigures | None, what: str) -> str:
    return what if conversion is None else f"{what} ({words.clean(conversion.from_geometry, limit=30)} as broken)"


def _table(table: IfThenTable, of_what: str) -> Table:
    specimens = "specimen" if table.n_specimens == 1 else "specimens"
    first = f"{of_what}, mean of {table.n_specimens} {specimens} at {age_label(table.age_h)}"
    return Table(
        columns=(
            Column(heading=f"{first}, MPa"),
            Column(heading="then"),
            Column(heading="sound ones here", is_number=True),
            Column(heading="earlier batches here", is_wide_only=True),
        ),
        rows=tuple(_row(band) for band in table.bands),
        note=_note(table),
    )


def _row(band: IfThenBand) -> tuple[str, ...]:
    share = percent(band.sound_share, digits=1 if band.sound_share < 0.1 else 0)
    return _range(band), band.what, share, ", ".join(words.clean(name, limit=12) for name in band.batches) or words.NONE


def _range(band: IfThenBand) -> str:
    if band.low_mpa is None and band.high_mpa is None:
        return "any"
    if band.low_mpa is None:
        return f"below {strength_words(band.high_mpa)}"
    if band.high_mpa is None:
        return f"{strength_words(band.low_mpa)} or more"
    return f"{strength_words(band.low_mpa)} to {strength_words(band.high_mpa)}"


def _note(table: IfThenTable) -> str:
    text = (
        f"Expected {strength_words(table.expected_mpa)} MPa at the maturity that earlier batches had then. Replayed on "
        f"{table.n_batches} earlier batches, each judged by the others: {table.n_changed} would have left the plan; "
        f"error {words.share(table.error_planned)} as planned, {words.share(table.error_followed)} with the table "
        f"followed; specimens {table.specimens_planned:.1f} and {table.specimens_followed:.1f} on the mean."
    )
    if not table.can_tell_strangers:
        return (
            f"{text} Too few earlier batches to stop for a stranger: only a deficit of "
            f"{percent(table.noticed_deficit, digits=0)} would be noticed 9 times in 10."
        )
    return (
        f"{text} Only a deficit of {percent(table.noticed_deficit, digits=0)} or more stops the batch 9 times in 10: a "
        "first break is a coarse check."
    )
