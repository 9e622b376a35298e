"""The account on one or two screens: what to do, how far to trust it, what to mind. The rest is in the full one.

Schedules stand in a short form, ``4h 6h 8h 14d, 2+3+2+2``, so that a row of the comparison is a line.
"""

from __future__ import annotations

from planner.report.accounts.action_account import action_section
from planner.report.accounts.after_casting.continuing_account import trial_section
from planner.report.accounts.full_account import (
    ages_picture,
    has_content,
    safe_reading_words,
    unknown_words,
)
from planner.report.accounts.geometries.geometry_account import geometry_section
from planner.report.accounts.parts.comparison import (
    BEATEN_MARK,
    OUTSIDE_MARK,
    beaten_note,
    merged_choices,
    short_schedule,
)
from planner.report.accounts.parts.drawn_account import headed
from planner.report.accounts.parts.validation_tables import later_table
from planner.report.accounts.parts.waiting_account import waiting_section
from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Facts, Paragraph, Section, Table
from planner.report.text.plain_blocks import NO_BREAK
from planner.terms.labels import age_label
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.design_figures import AgeRole
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation

MOST_COMPARED = 7
MOST_REASONS = 3
AGES_A_TABLE = 10  # columns that fit beside the row names on 80 characters
_SHORTER = {ChoiceRole.COMPARED: "compared"}


def brief_account(recommendation: Recommendation, on_the_clock: tuple[Section, ...] = ()) -> tuple[Section, ...]:
    """What a reader needs to act, the comparison, then castings `on_the_clock` and the rest.

    Nothing that stands here is missing in the full account.
    """
    advice = recommendation
    first = headed(action_section(advice), advice)
    sections = (
        trial_section(advice),
        first,
        _compared(advice),
        *on_the_clock,
        waiting_section(advice),
        geometry_section(advice, is_brief=True),
        _standing(advice),
        _trust(advice),
        _ages(advice),
        _why(advice),
    )
    return tuple(section for section in sections if has_content(section))


def _compared(advice: Recommendation) -> Section:
    heading = f"Beside other schedules (errors on {words.judges_words(advice)}, not corrected for the search)"
    return Section(heading, (_short_table(advice), ages_picture(advice)))


def _short_table(advice: Recommendation) -> Table:
    named = [advice.recommended, advice.best, advice.enough, advice.customary, advice.equal_gain, *advice.compared]
    merged = merged_choices([choice for choice in (*named, *advice.next_best[:1]) if choice is not None])
    shown = merged[:MOST_COMPARED]
    has_cost = any(choice.cost is not None for _, choice in shown)
    columns = (
        Column(heading="choice"),
        Column(heading="break at, specimens"),
        Column(heading="n", is_number=True),
        Column(heading="RMS", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="over", is_number=True),
        Column(heading="worst", is_number=True),
        *((Column(heading=words.clean(advice.currency, limit=8), is_number=True),) if has_cost else ()),
    )
    rows = tuple(_short_row(roles, choice, has_cost=has_cost) for roles, choice in shown)
    note = words.legend(
        advice, f"inside: batches within {words.share(advice.tolerance)}; over: over-predicted beyond it."
    )
    note += words.equal_gain_words(advice)
    if any(choice.error.is_below_resolution for _, choice in shown):
        note += " *: the scatter of the specimens, more cannot be resolved."
    if any(choice.is_extrapolating for _, choice in shown):
        note += f" {OUTSIDE_MARK.strip()}: read outside its ages."
    note += beaten_note([choice for _, choice in shown])
    if len(merged) > len(shown):
        note += f" {len(merged) - len(shown)} more in full."
    return Table(columns=columns, rows=rows, n_marked=1, note=note)


def _short_row(roles: tuple[ChoiceRole, ...], choice: RatedChoice, *, has_cost: bool) -> tuple[str, ...]:
    error, outside = choice.error, OUTSIDE_MARK.strip() if choice.is_extrapolating else ""
    kept = [role for role in roles if role is not ChoiceRole.NEXT_BEST or len(roles) == 1]
    name = " = ".join(_SHORTER.get(role, str(role)) for role in kept)
    return (
        (words.clean(name, limit=20) + (BEATEN_MARK.strip() if choice.is_beaten else "")).replace(" ", NO_BREAK),
        (short_schedule(choice.schedule) + outside).replace(" ", NO_BREAK),
        str(choice.schedule.n_specimens),
        words.rms_words(error),
        words.whole_share(error.within_tolerance),
        words.whole_share(error.over_predicted_beyond_tolerance),
        words.share(error.worst_batch.error, is_signed=True),
        *((words.money(choice.cost, ""),) if has_cost else ()),
    )


def _trust(advice: Recommendation) -> Section:
    blocks: list[Table | Paragraph | Facts] = [
        Paragraph(words.clean(advice.honest.sentence), is_strong=True),
        later_table(advice),
    ]
    if advice.honest.next_batch is None:
        blocks.append(Paragraph(unknown_words(advice)))
    blocks.append(Paragraph(safe_reading_words(advice)))
    limit, own = advice.limit, advice.honest.own_batch
    if limit is not None:
        text = (
            f"Scatter of the specimens: {words.share(limit.rms)} at the least, however "
            f"{advice.recommended.schedule.n_specimens} are placed; {words.share(limit.schedule_rms)} as placed here "
            f"({words.efficiency_words(advice)})"
        )
        is_whole = own is not None and limit.curve in (None, advice.recommended.curve)
        text += f"; the whole error on the own batch: {words.share(own.nested_rms)}." if own and is_whole else "."
        blocks.append(Paragraph(text))
    if advice.evidence.first_line:
        blocks.append(Paragraph(words.clean(advice.evidence.more_sentence)))
    return Section("What the own batch and a later pour would meet", tuple(blocks))


def _ages(advice: Recommendation) -> Section:
    """A column for each candidate age."""
    chosen = dict(zip(advice.recommended.schedule.ages_h, advice.recommended.schedule.specimens, strict=True))
    parts = [advice.ages[at : at + AGES_A_TABLE] for at in range(0, len(advice.ages), AGES_A_TABLE)]
    heading = f"What each age does (RMS as it stands: {words.rms_words(advice.recommended.error)})"
    return Section(heading, tuple(_age_table(part, chosen) for part in parts))


def _age_table(roles: tuple[AgeRole, ...], chosen: dict[float, int]) -> Table:
    columns = (
        Column(heading="age"),
        *(Column(heading=age_label(role.age_h) + ("!" if role.is_required else ""), is_number=True) for role in roles),
    )
    rows = (
        ("specimens", *(str(chosen.get(role.age_h, words.NONE)) for role in roles)),
        ("in the best schedule, %", *(_bare(role.inclusion, digits=0) for role in roles)),
        ("RMS without it, %", *(_bare(role.rms_if_dropped) for role in roles)),
        ("RMS with it, %", *(_bare(role.rms_if_added) for role in roles)),
    )
    return Table(columns=columns, rows=rows, note="!: required." if any(r.is_required for r in roles) else "")


def _bare(value: float | None, *, digits: int = 1) -> str:
    """A percentage whose sign stands at the head of its row."""
    text = words.share(value) if digits else words.whole_share(value)
    return text.removesuffix(" %")


def _why(advice: Recommendation) -> Section:
    shown = tuple(words.clean(reason) for reason in advice.reasons[:MOST_REASONS])
    return Section("Why", (Bullets(shown),) if shown else ())


def _standing(advice: Recommendation) -> Section:
    standing = tuple(words.clean(text) for text in advice.standing_cautions)
    return Section("What always holds", (Bullets(standing),) if standing else ())
