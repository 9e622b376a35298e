"""``curve.html``: the sheet that a site holds, one A4 leaf front and back; below it, on screen, the laboratory's part.

A crew needs nothing but the printed leaf. What is below it is not printed.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.rules.rule_limits import LOW_Z
from planner.issued_curve.rules.rule_words import NO_LIMITS, lasting_words, tonight_words
from planner.report.accounts.after_casting.curve_account import (
    HOURS_NOTE,
    companions_table,
    curve_account,
    hours_words,
    safe_words,
    strength_words,
)
from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.figures.after_casting.issued_curve import HEIGHT_PX, bias_plots, curve_plot, expectation_plot
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.text import words
from planner.report.text.conversion_words import counted_words, read_as_words, span_words
from planner.report.text.curve_status_words import curve_alarm_words, is_usable, status_words
from planner.report.text.curve_words import (
    assurance_words,
    formula_words,
    maturity_name,
    maturity_number,
    maturity_words,
    reckoning_words,
    rests_on_words,
    temperature_words,
    valid_words,
)
from planner.report.text.early_correction_words import BY_THE_LABORATORY, NOT_BY_THIS_CURVE, correction_table
from planner.terms.labels import percent

MOST_INPUTS = 5  # hashes that fit the back
HASH_SHOWN = 16  # characters of a hash: enough to tell files apart
MOST_BATCHES_WRITTEN = 1  # formulas that fit the back
LONGEST_FORMULA = 110
MOST_HOURS = 6  # lines of the hours that fit the back; all of them stand in the laboratory's part
LONGEST_TITLE = 40
LOW_PX = 205.0  # of the picture where a correction table shares the front: the whole width, so that it can be read

SENSOR_RULES = (
    "Two sensors or more in every pour: where it stays coldest, where it is thinnest, and in the last concrete placed.",
    "Tied beside reinforcement with an insulating spacer, never on steel or against the form.",
    "Started when the concrete is placed. A pour is read by its least mature sensor.",
)
LOGGER_RULES = (
    "Set the logger to this maturity function and these constants; its own strength curve off, or typed in from the "
    "table and checked at three lines.",
    "Read the maturity and take the line of the table at or below it, never the next one above.",
)
SIGNATURES = ("Issued by, date", "Approved by (responsible engineer), date", "Valid until")


@dataclass(frozen=True, slots=True, kw_only=True)
class _HoursRow:
    """One strength at one temperature, in words."""

    strength: str
    temperature: str
    earliest: str
    likely: str
    safe: str


def render_curve_sheet(issue: Issue) -> str:
    """Write the sheet with the laboratory's part below it."""
    curve, correction = issue.curve, issue.early_correction
    unit, per_hour = maturity_unit(curve.maturity)
    rows = [
        (maturity_number(row.maturity_h * per_hour), strength_words(row.strength_mpa), safe_words(row.safe_mpa))
        for row in issue.table
    ]
    half = (len(rows) + 1) // 2
    plots = [*bias_plots(issue)]
    plots += [
        plot
        for fit, expectation in zip(issue.fits, issue.expectations, strict=True)
        if (plot := expectation_plot(fit, expectation)) is not None
    ]
    return (
        page_environment()
        .get_template("curve_sheet.html.j2")
        .render(
            style=Markup(page_resource("page.css") + page_resource("curve_sheet.css")),
            curve=curve,
            title=words.clean(curve.title, limit=LONGEST_TITLE) or "Strength by maturity",
            mix=words.clean(curve.mix, limit=50) or "mix not named",
            status=status_words(issue),
            read_as="" if curve.conversion is None else words.clean(read_as_words(curve.conversion)),
            counted="" if curve.conversion is None else words.clean(counted_words(curve.conversion)),
            is_usable=is_usable(issue),
            picture=Markup(draw_svg(curve_plot(issue, height_px=HEIGHT_PX if correction is None else LOW_PX))),
            unit=unit,
            abscissa=maturity_name(curve.maturity),
            columns=(rows[:half], rows[half:]),
            assurance=assurance_words(curve),
            stop_rules=_stop_rules(issue),
            companions=companions_table(issue),
            tonight="" if issue.check_sd is None else tonight_words(sd=issue.check_sd),
            lasting="" if issue.check_sd is None else lasting_words(sd=issue.check_sd),
            alarms="" if issue.alarms is None else curve_alarm_words(curve, issue.alarms),
            no_limits=NO_LIMITS,
            early_breaks=_early_breaks(issue),
            correction=None if correction is None else correction_table(correction, curve.maturity, curve.conversion),
            companions_per_check=curve.promise.companions_per_check,
            hours=[
                _HoursRow(
                    strength=f"{row.strength_mpa:g}",
                    temperature=f"{row.temperature_c:.0f}",
                    earliest=hours_words(row.earliest_h),
                    likely=hours_words(row.likely_h),
                    safe=hours_words(row.safe_h, is_waited_for=True),
                )
                for row in issue.hours[:MOST_HOURS]
            ],
            hours_note=HOURS_NOTE,
            reckoning=reckoning_words(curve.maturity, age_zero=curve.age_zero),
            formulas=_short_formulas(formula_words(curve)),
            sensors=SENSOR_RULES,
            logger=LOGGER_RULES,
            valid=valid_words(curve),
            rests_on=words.clean(rests_on_words(issue), limit=80),
            recalibrate=[words.clean(text, limit=120) for text in issue.recalibrate_when],
            signatures=SIGNATURES,
            inputs=[
                (words.clean(name, limit=40), digest[: len("sha256:") + HASH_SHOWN]) for name, digest in curve.inputs
            ][-MOST_INPUTS:],
            standing=[words.clean(text) for text in issue.standing_cautions],
            n_cautions=len(issue.cautions),
            sections=curve_account(issue),
            figures=[(plot, Markup(draw_svg(plot))) for plot in plots],
        )
    )


def _early_breaks(issue: Issue) -> str:
    """Who reads a pour by its early breaks, where the front has no table for it."""
    if not issue.has_early_breaks or issue.early_correction is not None:
        return ""
    return NOT_BY_THIS_CURVE if issue.curve.pour_model is None else BY_THE_LABORATORY


def _stop_rules(issue: Issue) -> tuple[str, ...]:
    """When there is no reading, and when a pour waits, with the figures of this curve."""
    curve = issue.curve
    first, last = (maturity_words(row.maturity_h, curve.maturity) for row in (issue.table[0], issue.table[-1]))
    temperature = temperature_words(curve)
    low = "low" if issue.check_sd is None else f"low ({percent(-LOW_Z * issue.check_sd, digits=0)} or more below read)"
    pairs = "" if curve.conversion is None else span_words(curve.conversion)
    return (
        f"A maturity below {first} or above {last}: no reading.",
        *((pairs,) if pairs else ()),
        f"Concrete outside {temperature} on the mean, or frozen at any time: no reading; call the laboratory."
        if temperature
        else "Concrete frozen at any time: no reading; call the laboratory.",
        "A sensor is dead or was started late: no reading from it. None left: no reading.",
        "Mix, cement, admixture or aggregate changed, or water added on site: the curve does not hold.",
        f"The companions are {low} or below the required strength: this pour waits; call the engineer.",
        "The safe reading is below the required strength: this pour waits.",
    )


def _short_formulas(lines: tuple[str, ...]) -> list[str]:
    """Formulas that fit the back; the whole of longer ones stands in curve.json."""
    shown = [line if len(line) <= LONGEST_FORMULA else line[: LONGEST_FORMULA - 1] + "…" for line in lines]
    if len(shown) > MOST_BATCHES_WRITTEN + 1:
        shown = [*shown[:MOST_BATCHES_WRITTEN], "Further batches: curve.json.", shown[-1]]
    return shown
