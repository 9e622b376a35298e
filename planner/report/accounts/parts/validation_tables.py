"""Tables of what holds on a batch that is not in the records, of the limit, and of each age."""

from __future__ import annotations

from collections.abc import Iterable

from planner.report.text import words
from planner.report.text.blocks import Column, Table
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.recommended.validation_figures import NextBatchVerdict, OwnBatchVerdict

SHOWN_FOLDS = 12


def honest_table(advice: Recommendation) -> Table:
    """Own batch and next batch below the apparent figure; bounds beside every figure."""
    own, later = advice.honest.own_batch, advice.honest.next_batch
    rows = [_apparent_row(advice)]
    if own is not None:
        floor = words.FLOOR_MARK if own.is_below_resolution else ""
        rows.append(("own batch", words.share(own.nested_rms) + floor, *_bounds(own)))
        if own.bootstrap_rms is not None:
            rows.append(("the same, batches resampled", words.share(own.bootstrap_rms), *(words.NONE,) * 4))
    if advice.honest.best_nested_rms is not None:
        rows.append(("always taking the best", words.share(advice.honest.best_nested_rms), *(words.NONE,) * 4))
    if later is not None:
        rows.append(("later pour", words.share(later.rms), *_bounds(later)))
    note = " ".join(filter(None, (_honest_note(advice), _no_bound_note(rows))))
    return Table(columns=_honest_columns(), rows=tuple(rows), note=note)


def _no_bound_note(rows: Iterable[tuple[str, ...]]) -> str:
    return words.NO_BOUND_NOTE if any(words.NO_BOUND_CELL in row for row in rows) else ""


def _honest_columns() -> tuple[Column, ...]:
    return (
        Column(heading="curve read on"),
        Column(heading="RMS error", is_number=True),
        Column(heading="upper 95 %", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="lower 95 %", is_number=True),
        Column(heading="over", is_number=True),
    )


def later_table(advice: Recommendation) -> Table:
    """The same in few words: only what the whole rule did on batches that it had not seen."""
    own, later = advice.honest.own_batch, advice.honest.next_batch
    rows: list[tuple[str, ...]] = []
    if own is not None:
        floor = words.FLOOR_MARK if own.is_below_resolution else ""
        rows.append(("own batch", words.share(own.nested_rms) + floor, *_bounds(own)))
    if later is not None:
        rows.append(("a later pour", words.share(later.rms), *_bounds(later)))
    if not rows:
        rows.append(_apparent_row(advice))
    means = [
        f"{words.share(rms)} with {n}" for n, rms in enumerate(later.rms_by_trial_batches[1:] if later else (), start=2)
    ]
    note = f"A later pour, read off the mean curve of several trial batches: {', '.join(means)}." if means else ""
    return Table(columns=_honest_columns(), rows=tuple(rows), note=note)


def _apparent_row(advice: Recommendation) -> tuple[str, ...]:
    return (f"{words.judges_words(advice)} (apparent)", words.rms_words(advice.recommended.error), *(words.NONE,) * 4)


def _bounds(verdict: OwnBatchVerdict | NextBatchVerdict) -> tuple[str, str, str, str]:
    return (
        words.upper_bound(verdict.rms_upper_95),
        words.whole_share(verdict.within_tolerance),
        words.lower_bound(verdict.within_tolerance_lower_95),
        words.whole_share(verdict.over_predicted_beyond_tolerance),
    )


def target_table(advice: Recommendation) -> Table:
    """Nested figures for each target age."""
    rows = tuple(
        (
            advice.target_label(verdict.age_h),
            words.share(verdict.nested_rms),
            words.upper_bound(verdict.rms_upper_95),
            words.whole_share(verdict.within_tolerance),
            words.whole_share(verdict.over_predicted_beyond_tolerance),
            words.share(verdict.next_batch_rms),
        )
        for verdict in advice.honest.per_target
    )
    columns = (
        Column(heading="target"),
        Column(heading="RMS, own batch", is_number=True),
        Column(heading="upper 95 %", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="over", is_number=True),
        Column(heading="RMS, later pour", is_number=True),
    )
    return Table(columns=columns, rows=rows, note=_no_bound_note(rows))


def fold_table(advice: Recommendation) -> Table:
    """What the same rule would have taken without each batch, and how that did there."""
    folds = advice.honest.folds
    rows = tuple(
        (
            words.clean(fold.held_out, limit=24),
            schedule_label(fold.schedule),
            words.weighted(fold.curve, fold.weighting),
            words.share(fold.error, is_signed=True),
        )
        for fold in folds[:SHOWN_FOLDS]
    )
    columns = (
        Column(heading="held out"),
        Column(heading="what the rule took without it"),
        Column(heading="curve, weighting", is_wide_only=True),
        Column(heading="error there", is_number=True),
    )
    hidden = len(folds) - len(rows)
    note = (
        "error there: at the check that was worst, against the broken companions, whose own scatter is in it; "
        "RMS error and inside are against true strength."
    )
    if hidden > 0:
        note += f" {hidden} more stand in recommendation.json."
    return Table(columns=columns, rows=rows, note=note)


def mix_table(advice: Recommendation) -> Table:
    """The mixes that are read worst, with what tells them from the others."""
    mixes = advice.honest.mixes
    rows = tuple(
        (
            words.clean(worst.mix, limit=24),
            words.share(worst.error, is_signed=True),
            f"{worst.strength_mpa:.1f}",
            age_label(worst.last_age_h),
        )
        for worst in (mixes.worst if mixes is not None else ())
    )
    columns = (
        Column(heading="mixes read worst"),
        Column(heading="error", is_number=True),
        Column(heading="strength, MPa", is_number=True),
        Column(heading="last broken at", is_number=True),
    )
    return Table(columns=columns, rows=rows, note="strength: mean of what the mix is held against.")


def limit_table(advice: Recommendation) -> Table:
    """Three numbers: what specimens could buy at best, what these buy, and the whole error."""
    limit = advice.limit
    if limit is None:
        return Table(columns=(Column(heading="figure"), Column(heading="RMS", is_number=True)), rows=())
    own = advice.honest.own_batch
    rows = [
        ("least scatter any placement of these specimens could give", words.share(limit.rms)),
        (
            f"scatter of the recommended schedule ({words.efficiency_words(advice)})",
            words.share(limit.schedule_rms),
        ),
    ]
    if own is not None:
        rows.append(("own-batch error of the recommended rule", words.share(own.nested_rms)))
    columns = (Column(heading="figure"), Column(heading="RMS", is_number=True))
    return Table(columns=columns, rows=tuple(rows), note=words.limit_words(advice))


def age_table(advice: Recommendation) -> Table:
    """What each candidate age does for the recommendation."""
    chosen = dict(zip(advice.recommended.schedule.ages_h, advice.recommended.schedule.specimens, strict=True))
    rows = tuple(
        (
            age_label(role.age_h) + (" (required)" if role.is_required else ""),
            str(chosen.get(role.age_h, words.NONE)),
            words.whole_share(role.inclusion),
            words.share(role.rms_if_dropped),
            words.share(role.rms_if_added),
        )
        for role in advice.ages
    )
    columns = (
        Column(heading="age"),
        Column(heading="specimens", is_number=True),
        Column(heading="how often in the best schedule", is_number=True),
        Column(heading="RMS if dropped", is_number=True),
        Column(heading="RMS if added", is_number=True),
    )
    return Table(columns=columns, rows=rows, note=f"RMS as it stands: {words.rms_words(advice.recommended.error)}.")


def _honest_note(advice: Recommendation) -> str:
    note = words.legend(
        advice,
        f"inside: share of batches within {words.share(advice.tolerance)}; over: share over-predicted beyond "
        "it; upper and lower: 95 % bounds.",
    )
    later = advice.honest.next_batch
    if later is not None:
        by_trials = ", ".join(words.share(rms) for rms in later.rms_by_trial_batches)
        note += f" Later pour from {later.basis}"
        note += f"; RMS with 1, 2, ... trial batches: {by_trials}." if by_trials else "."
    own = advice.honest.own_batch
    if own is not None and own.is_below_resolution:
        note += " " + words.FLOOR_NOTE
    return note
