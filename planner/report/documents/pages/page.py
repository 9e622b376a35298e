"""``report.html``: the whole answer in one file that needs no network, prints, and can be listened to."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from planner.laboratory.clock.break_slots import BreakTimes
from planner.report.accounts.clock.clock_account import clock_account
from planner.report.accounts.full_account import answer_facts, recommendation_account
from planner.report.accounts.parts.glossary_account import glossary_section
from planner.report.documents.pages.page_headline import first_screen
from planner.report.documents.pages.what_if import embedded_json, what_if_data
from planner.report.figures import all_plots
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.figures.week import week_plots
from planner.report.text import words
from planner.report.text.blocks import AgePicture, Block, Bullets, Facts, Paragraph, Section, SectionId, Table
from planner.report.text.plain_blocks import NO_BREAK, held
from planner.terms.plan.settings import Laboratory
from planner.terms.results.recommended.recommendation import Recommendation

TOLD_ELSEWHERE = (SectionId.ANSWER, SectionId.CAUTIONS)  # of the account, by the page in its own way


def render_page(
    recommendation: Recommendation,
    *,
    castings: Sequence[BreakTimes] = (),
    laboratory: Laboratory | None = None,
) -> str:
    """Write the page.

    Parameters
    ----------
    recommendation
        The result.
    castings, laboratory
        The recommended schedule on the clock, where a casting time was given.
    """
    advice = recommendation
    plots = [*all_plots(advice)]
    if laboratory is not None:
        plots += week_plots(castings, laboratory)
    data = what_if_data(advice)
    sections = (*clock_account(castings, advice), *_later_sections(advice), glossary_section())
    return (
        page_environment()
        .get_template("page.html.j2")
        .render(
            told=advice,
            title=words.clean(advice.title, limit=160) or "Recommended test ages",
            first_line=words.clean(advice.evidence.first_line),
            facts=answer_facts(advice),
            first=first_screen(advice, castings),
            n_first_cautions=advice.n_leading_cautions,
            cautions=[(caution.code, words.clean(caution.text)) for caution in advice.cautions],
            standing=[words.clean(text) for text in advice.standing_cautions],
            figures=[(plot, Markup(draw_svg(plot))) for plot in plots],
            sections=sections,
            enough_section=_place_of(SectionId.ENOUGH, sections),
            what_if=data,
            elsewhere=_elsewhere(advice, data["recommended"]["rms"]),
            judges=words.judges_words(advice),
            what_if_json=Markup(embedded_json(data)),
            style=Markup(page_resource("page.css")),
            script=Markup(page_resource("page.js")),
            inputs=[(words.clean(name), digest) for name, digest in advice.inputs.items()],
            libraries=sorted(advice.libraries.items()),
        )
    )


def _elsewhere(advice: Recommendation, rms_here: float | None) -> str:
    """Why the recommended schedule reads another error among the many than on the rest of the page; "" if it does not.

    Most rows of the many are worked out in closed form, the few of the comparison on draws.
    """
    here, there = words.share(rms_here), words.share(advice.recommended.error.rms)
    if here == there:
        return ""
    return f"Worked out in closed form, elsewhere on draws: the recommended one reads {here} here, {there} elsewhere."


def _place_of(wanted: SectionId, sections: Sequence[Section]) -> int:
    """Number of a section, as the page counts them; 0 where there is none."""
    return next((place for place, section in enumerate(sections, start=1) if section.id is wanted), 0)


def block_kind(block: Block) -> str:
    """The name by which the template knows a block."""
    return {
        Paragraph: "paragraph",
        Facts: "facts",
        Bullets: "bullets",
        Table: "table",
        AgePicture: "picture",
    }[type(block)]


def _later_sections(advice: Recommendation) -> tuple[Section, ...]:
    """What the first screen does not tell; the cautions stand there."""
    return tuple(section for section in recommendation_account(advice) if section.id not in TOLD_ELSEWHERE)


@cache
def page_environment() -> Environment:
    """Templates with everything escaped and nothing undefined; each is compiled once, whatever is written with it."""
    environment = Environment(
        loader=PackageLoader("planner.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_held,
    )
    environment.tests["block"] = lambda block, kind: block_kind(block) == kind
    environment.filters["spaced"] = lambda text: text.replace(NO_BREAK, " ")
    return environment


def _held(value: object) -> object:
    """No line ends between a figure and its unit; what is markup already stays as it is."""
    return held(value) if type(value) is str else value


def page_resource(name: str) -> str:
    """A file beside the templates."""
    return files("planner.report").joinpath("templates", name).read_text(encoding="utf-8")
