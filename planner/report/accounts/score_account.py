"""The answer to whoever asks about one schedule: how far off it would be, beside what is recommended."""

from __future__ import annotations

from dataclasses import replace

from planner.report.accounts.full_account import (
    basis_section,
    cautions_section,
    has_content,
    later_section,
    picture_of,
    pictured,
)
from planner.report.accounts.parts.comparison import comparison_table, shown_choices
from planner.report.accounts.parts.drawn_account import headed
from planner.report.accounts.parts.headline_figures import LaterFigures, later_figures, programme_figures
from planner.report.text import words
from planner.report.text.blocks import Facts, Paragraph, Section
from planner.terms.labels import counted, schedule_label
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation

BEYOND_LIMITS = "beyond-limits"


def score_account(scored: RatedChoice, recommendation: Recommendation) -> tuple[Section, ...]:
    """One schedule somebody asked about, beside the recommendation. Not an approval."""
    scored = replace(scored, label=ChoiceRole.ASKED_ABOUT)
    table = comparison_table(recommendation, choices=(scored, *shown_choices(recommendation)), n_marked=1)
    asked = Section(
        "Schedule asked about",
        (
            Facts(_facts(scored, recommendation)),
            table,
            Paragraph(
                f"How far off the schedule would be on {words.judges_words(recommendation)}. This approves nothing."
            ),
            picture_of(recommendation, (scored, *pictured(recommendation))),
        ),
    )
    sections = (
        headed(asked, recommendation),
        later_section(
            recommendation, heading="What the recommended schedule would meet on its own batch and a later pour"
        ),
        basis_section(recommendation),
        cautions_section(recommendation),
    )
    return tuple(section for section in sections if has_content(section))


def _facts(scored: RatedChoice, advice: Recommendation) -> tuple[tuple[str, str], ...]:
    """The schedule with its two errors, then those of the recommended one."""
    n_batches = 1 if scored.programme is None else scored.programme.n_trial_batches
    of_each = f", in each of {counted(n_batches, 'trial batch', 'trial batches')}" if n_batches > 1 else ""
    figures = later_figures(advice)
    beside = "" if figures is None else f"; later pour {_read(figures)}"
    return (
        ("Schedule", schedule_label(scored.schedule) + of_each),
        *((("Beyond limits", words.clean(text)),) if (text := _beyond(advice)) else ()),
        ("Later pour", _later_words(scored, advice)),
        ("Own batch", _own_words(scored)),
        *(() if scored.cost is None else (("Cost", words.money(scored.cost, advice.currency)),)),
        ("Best curve for it", words.curve_words(scored)),
        ("Maturity", words.maturity_words(scored.maturity)),
        *(() if not scored.note else (("Note", words.clean(scored.note)),)),
        ("Recommended", schedule_label(advice.recommended.schedule) + beside),
    )


def _beyond(advice: Recommendation) -> str:
    """Which limits of the plan the schedule does not keep; "" where it keeps all."""
    return next((caution.text for caution in advice.cautions if caution.code == BEYOND_LIMITS), "")


def _later_words(scored: RatedChoice, advice: Recommendation) -> str:
    if not words.is_error_promised(advice):
        return "no error can be promised below 3 d"
    figures = None if scored.programme is None else programme_figures(scored.programme, advice)
    if figures is None:
        because = words.clean(advice.honest.next_batch_unknown_because).rstrip(".")
        return f"unknown: {because}" if because else "unknown"
    return _read(figures)


def _read(figures: LaterFigures) -> str:
    return f"read {figures.rms} off ({figures.named}); {figures.share} {figures.verdict}"


def _own_words(scored: RatedChoice) -> str:
    if scored.programme is None:
        return "not judged"
    return f"read {words.share(scored.programme.own_batch_rms)} off (RMS)"
