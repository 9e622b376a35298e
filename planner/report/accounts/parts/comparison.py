"""The table that sets the recommended schedule beside the others."""

from __future__ import annotations

from collections.abc import Sequence

from planner.report.text import words
from planner.report.text.blocks import Column, Table
from planner.report.text.plain_blocks import NO_BREAK
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule

SHOWN_NEXT_BEST = 3
OUTSIDE_MARK = " ^"  # behind a schedule whose curve is read outside its ages

BEATEN_MARK = " ~"  # behind what a schedule is called that another beats in all that counts
BEATEN_WORDS = (
    "another is no worse in judged error, worst batch, over-prediction, money, specimens, visits and wait, "
    "and better in one"
)


def shown_choices(advice: Recommendation) -> tuple[RatedChoice, ...]:
    """Recommended, best, enough, customary, equal gain, compared, and a few of the next best."""
    named = (advice.recommended, advice.best, advice.enough, advice.customary, advice.equal_gain)
    return (
        *(choice for choice in named if choice is not None),
        *advice.compared,
        *advice.next_best[:SHOWN_NEXT_BEST],
    )


def comparison_table(advice: Recommendation, *, choices: Sequence[RatedChoice], n_marked: int) -> Table:
    """Set choices side by side; one that stands there twice is named once with both its labels."""
    merged = merged_choices(choices)
    has_cost = any(choice.cost is not None for _, choice in merged)
    models = {words.short_model(choice) for _, choice in merged}
    has_models = len(models) > 1
    columns = (
        Column(heading="choice"),
        Column(heading="ages x specimens"),
        Column(heading="n", is_number=True),
        *((Column(heading="curve", is_wide_only=True),) if has_models else ()),
        Column(heading="RMS error", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="over", is_number=True),
        Column(heading="worst batch", is_number=True),
        *((Column(heading="cost", is_number=True),) if has_cost else ()),
    )
    rows = tuple(
        _row(role_words(roles), choice, advice=advice, has_cost=has_cost, has_models=has_models)
        for roles, choice in merged
    )
    note = words.legend(
        advice,
        f"inside: share of batches within {words.share(advice.tolerance)}; over: share over-predicted beyond it.",
    )
    note += words.equal_gain_words(advice) + " RMS error: own batch, against true strength."
    if not has_models:
        note += f" All of them with their best curve: {models.pop()}."
    note += beaten_note([choice for _, choice in merged])
    if any(choice.error.is_below_resolution for _, choice in merged):
        note += " " + words.FLOOR_NOTE
    if any(choice.is_extrapolating for _, choice in merged):
        note += f" {OUTSIDE_MARK.strip()}: reads the curve outside its ages in at least one batch."
    return Table(columns=columns, rows=rows, n_marked=n_marked, note=note)


def beaten_note(choices: Sequence[RatedChoice]) -> str:
    """What the mark behind a name says; "" where none stands there."""
    return f" {BEATEN_MARK.strip()}: {BEATEN_WORDS}." if any(choice.is_beaten for choice in choices) else ""


def unbroken_schedule(schedule: Schedule) -> str:
    """The schedule for a narrow column: lines break between ages, never between an age and its count."""
    return schedule_label(schedule).replace(" ", NO_BREAK).replace("," + NO_BREAK, ", ")


def merged_choices(choices: Sequence[RatedChoice]) -> list[tuple[tuple[ChoiceRole, ...], RatedChoice]]:
    """A choice that stands there twice once, with both its roles."""
    labels: dict[tuple[object, ...], list[ChoiceRole]] = {}
    firsts: dict[tuple[object, ...], RatedChoice] = {}
    for choice in choices:
        key = words.joint_key(choice)
        firsts.setdefault(key, choice)
        labels.setdefault(key, []).append(choice.label)
    return [(tuple(dict.fromkeys(labels[key])), choice) for key, choice in firsts.items()]


def role_words(roles: Sequence[ChoiceRole]) -> str:
    """What a choice is called that plays several parts."""
    return " = ".join(roles)


def _row(
    label: str, choice: RatedChoice, *, advice: Recommendation, has_cost: bool, has_models: bool
) -> tuple[str, ...]:
    error = choice.error
    name = words.clean(label, limit=40)
    if choice.n_batches < advice.evidence.n_batches:
        name += f" ({choice.n_batches} of {advice.evidence.n_batches} batches)"
    return (
        name + (BEATEN_MARK if choice.is_beaten else ""),
        unbroken_schedule(choice.schedule) + (OUTSIDE_MARK if choice.is_extrapolating else ""),
        str(choice.schedule.n_specimens),
        *((words.short_model(choice),) if has_models else ()),
        words.rms_words(error),
        words.whole_share(error.within_tolerance),
        words.whole_share(error.over_predicted_beyond_tolerance),
        words.batch_error_words(error.worst_batch),
        *((words.money(choice.cost, advice.currency),) if has_cost else ()),
    )


def short_schedule(schedule: Schedule) -> str:
    """Ages with their specimens in the width of a column: ``4h 6h 1d, 2+3+2``, ``6h 1d, 3 each``."""
    ages = " ".join(age_label(age).replace(" ", "") for age in schedule.ages_h)
    if len(set(schedule.specimens)) == 1:
        return f"{ages}, {schedule.specimens[0]} each"
    return f"{ages}, " + "+".join(str(count) for count in schedule.specimens)
