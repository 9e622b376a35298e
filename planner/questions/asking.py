"""The other questions about one plan: a given schedule, money, the least, and what the records hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from planner.questions.answer import Answer, answer_of, document_text, told_in
from planner.questions.loading import load_plan, plan_of
from planner.questions.recommending import Progress, unseen
from planner.terms.plan.shown_as import ShownAs, shown_as

if TYPE_CHECKING:
    from planner.evidence.record_summary import Story
    from planner.read.tabular.headings import Column
    from planner.terms.plan.settings import Plan
    from planner.terms.results.answers import PriceAnswer
    from planner.terms.results.minimum.minimum_figures import MinimumAnswer
    from planner.terms.results.recommended.rated_choice import RatedChoice
    from planner.terms.results.recommended.recommendation import Recommendation
    from planner.terms.schedule import Schedule


def score(
    plan: Plan | str | Path,
    schedule: Schedule | str,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
) -> Answer[tuple[RatedChoice, Recommendation]]:
    """Say how far off a given schedule would be, beside the recommendation. Not an approval.

    Parameters
    ----------
    schedule
        Ages with their specimens, like ``"6 h x3, 1 d x3, 28 d x2"``.

    Others and errors as in :func:`planner.recommend`.
    """
    from planner.pipeline import score as compute
    from planner.questions.first_compile import compile_first
    from planner.read import parse_schedule
    from planner.report.accounts.score_account import score_account
    from planner.report.documents.values.recommendation_document import score_document
    from planner.report.text.refusal_words import refused_in

    asked = parse_schedule(schedule) if isinstance(schedule, str) else schedule
    inputs = plan_of(plan)
    compile_first(progress)
    shown = shown_as(inputs.settings, inputs.records)
    with refused_in(shown):
        rated, advice = compute(inputs, asked, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    return answer_of(
        (rated, advice),
        score_document(rated, advice),
        lambda: score_account(rated, advice),
        file_name="score.json",
        shown=shown,
    )


def price(
    plan: Plan | str | Path,
    *,
    cast: str | Sequence[str] = (),
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
) -> Answer[PriceAnswer]:
    """Say what knowing the strength costs, and what the next specimen buys; as :func:`planner.recommend`.

    With casting times, holidays and nights are priced as the calendar has them, and curves get their dates.
    """
    from planner.laboratory.casting.casting_times import cast_at
    from planner.pipeline import price as compute
    from planner.questions.first_compile import compile_first
    from planner.report.accounts.price.price_account import brief_price_account, price_account
    from planner.report.documents.estimate_workbook import render_estimate_workbook
    from planner.report.documents.pages.estimate_page import render_estimate
    from planner.report.documents.values.price_document import price_document
    from planner.report.text.refusal_words import refused_in

    inputs = cast_at(plan_of(plan), [cast] if isinstance(cast, str) else cast)
    compile_first(progress)
    shown = shown_as(inputs.settings, inputs.records)
    with refused_in(shown):
        result = compute(inputs, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    document = price_document(result)
    sections = told_in(shown, lambda: price_account(result))
    return Answer(
        result=result,
        document=document,
        sections=sections,
        brief=told_in(shown, lambda: brief_price_account(result)),
        shown=shown,
        files={
            "price.json": lambda: document_text(document).encode("utf-8"),
            "estimate.html": lambda: render_estimate(result, sections).encode("utf-8"),
            "estimate.xlsx": lambda: render_estimate_workbook(result),
        },
    )


def minimum(
    plan: Plan | str | Path,
    *,
    at_least: str = "",
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
) -> Answer[MinimumAnswer]:
    """Say the least that has to be broken for every target, and draft a clause; as :func:`planner.recommend`.

    Parameters
    ----------
    at_least
        A standard whose counts the clause must also have, like ``"ASTM C1074"``.

    Others and errors as in :func:`planner.recommend`; InputError too where the standard is not known.
    """
    from planner.pipeline import minimum as compute
    from planner.questions.first_compile import compile_first
    from planner.report.accounts.minimum_account import brief_minimum_account, minimum_account
    from planner.report.documents.clause_file import clause_docx
    from planner.report.documents.pages.clause_page import render_clause
    from planner.report.documents.values.minimum_document import minimum_document
    from planner.report.text.refusal_words import refused_in

    inputs = plan_of(plan)
    compile_first(progress)
    shown = shown_as(inputs.settings, inputs.records)
    with refused_in(shown):
        result = compute(inputs, standard=at_least, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    document, title = minimum_document(result), result.recommendation.title
    return Answer(
        result=result,
        document=document,
        sections=told_in(shown, lambda: minimum_account(result)),
        brief=told_in(shown, lambda: brief_minimum_account(result)),
        shown=shown,
        files={
            "minimum.json": lambda: document_text(document).encode("utf-8"),
            "clause.html": lambda: render_clause(result.clause, title=title).encode("utf-8"),
            "clause.docx": lambda: clause_docx(result.clause, title=title),
        },
    )


def table_columns() -> Answer[Mapping[str, Mapping[str, Column]]]:
    """List every column that the tables of a plan may have, what it holds and how else it may be headed."""
    from planner.read.table_columns import TABLE_COLUMNS
    from planner.report.accounts.columns_account import columns_account

    document = {
        table: {name: {"holds": column.note, "also": list(column.also)} for name, column in columns.items()}
        for table, columns in TABLE_COLUMNS.items()
    }
    return answer_of(
        TABLE_COLUMNS, document, lambda: columns_account(TABLE_COLUMNS), file_name="columns.json", shown=ShownAs()
    )


def check(plan: Plan | str | Path, *, is_outside_allowed: bool = False) -> Answer[Story]:
    """Tell what the records hold and what they can and cannot answer; computes nothing.

    `write` writes what was understood as plain tables, one row a break and one a reading.

    Parameters
    ----------
    is_outside_allowed
        Whether files outside the plan's folder may be read, where a path is given.

    Raises
    ------
    InputError
        With every problem of the plan and its tables.
    """
    from planner.conversion.stated_conversions import stated_conversions
    from planner.evidence.record_summary import tell_story
    from planner.read import tidy_tables
    from planner.report.accounts.geometries.conversion_account import conversion_sections
    from planner.report.accounts.parts.mortar_account import mortar_section
    from planner.report.accounts.records_account import story_account
    from planner.report.documents.values.conversion_document import conversions_document
    from planner.report.documents.values.recommendation_document import plain_value

    inputs = load_plan(plan, allow_outside=is_outside_allowed) if isinstance(plan, str | Path) else plan
    settings = inputs.settings
    story = tell_story(
        inputs.records,
        targets=tuple(zip(settings.target.ages_h, settings.target.waits_mpa, strict=True)),
        standard_curing_c=settings.prior.standard_curing_c,
    )
    conversions = stated_conversions(inputs.records, settings)
    document = plain_value(story)
    mortar = settings.maturity.mortar
    if mortar is not None:
        document |= {"mortar": plain_value(mortar)}
    if settings.specimens:
        document |= {"conversions": conversions_document(conversions)}
    shown = shown_as(settings, inputs.records)
    folder = Path(plan).parent if isinstance(plan, str | Path) else None
    return Answer(
        result=story,
        document=document,
        sections=told_in(
            shown,
            lambda: (
                *story_account(story, title=settings.title),
                *(() if mortar is None else (mortar_section(mortar),)),
                *conversion_sections(conversions),
            ),
        ),
        shown=shown,
        files=tidy_tables(inputs),
        sources=frozenset((folder / name).resolve() for name, _ in inputs.inputs) if folder else frozenset(),
    )
