"""What to do, how far off it will be, and what to mind."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl.styles import Alignment
from openpyxl.worksheet.worksheet import Worksheet

from planner.laboratory.clock.break_slots import BreakTimes
from planner.report.accounts.clock.clock_account import casting_words
from planner.report.accounts.clock.window_account import expected_words
from planner.report.accounts.full_account import answer_facts, safe_reading_words
from planner.report.accounts.geometries.geometry_account import casting_lines
from planner.report.sheets.sheet_cells import (
    HEADING,
    QUIET,
    TITLE,
    put_paragraph,
    put_text,
    row_height,
    set_up_print,
    set_widths,
)
from planner.report.text import words
from planner.terms.labels import clock_label
from planner.terms.plan.settings import CastingWindow, Settings
from planner.terms.results.recommended.recommendation import Recommendation

WIDTHS = (22.0, 88.0)
WHEN = "%Y-%m-%d %H:%M"


def fill_summary(sheet: Worksheet, advice: Recommendation, settings: Settings, castings: Sequence[BreakTimes]) -> None:
    """Write the sheet that is read first."""
    set_widths(sheet, WIDTHS)
    put_text(sheet.cell(1, 1), words.clean(advice.title, limit=160) or "Recommended test ages")
    sheet.cell(1, 1).font = TITLE
    if advice.evidence.first_line:
        put_paragraph(sheet, 2, advice.evidence.first_line, last_column=2, width=sum(WIDTHS))
    row = _pairs(sheet, 3, answer_facts(advice))
    put_paragraph(sheet, row + 1, advice.honest.sentence, last_column=2, width=sum(WIDTHS))
    sheet.cell(row + 1, 1).font = HEADING
    put_paragraph(sheet, row + 2, safe_reading_words(advice), last_column=2, width=sum(WIDTHS))
    row += 3
    geometry = casting_lines(advice)
    if geometry:
        row = _pairs(sheet, _heading(sheet, row + 1, "Which geometry to cast"), geometry)
    row = _heading(sheet, row + 1, "Before using it")
    row = _pairs(sheet, row, [(caution.code, caution.text) for caution in advice.cautions])
    for text in advice.standing_cautions:
        put_paragraph(sheet, row, text, last_column=2, width=sum(WIDTHS))
        row += 1
    if castings:
        row = _heading(sheet, row + 1, "On the clock")
        for times in castings:
            asked = casting_words(times, advice, is_alone=len(castings) == 1)
            row = _pairs(sheet, row, [(f"Cast {clock_label(times.cast_at, WHEN)}", asked)])
            row = _pairs(sheet, row, [("", text) for text in times.warnings])
            row = _pairs(sheet, row, [("To be expected", text) for text in expected_words(advice.waiting, times)])
    row = _heading(sheet, row + 1, "How to use this workbook")
    for text in (*_USE, _next_command(advice, settings)):
        put_paragraph(sheet, row, text, last_column=2, width=sum(WIDTHS))
        sheet.cell(row, 1).font = QUIET
        row += 1
    set_up_print(sheet, is_landscape=False)


_USE = (
    "Enter what was measured in the shaded cells of Specimens; the rows of Breaks follow by themselves.",
    "Enter the concrete's temperatures in Temperatures.",
    "Save, and name this workbook in a plan: breaks = and temperatures = both read it back.",
)


def _next_command(advice: Recommendation, settings: Settings) -> str:
    """What issues the curve when the last break is entered, with the casting times that led to this schedule."""
    plan = next((name for name in advice.inputs if name.endswith(".toml")), "PLAN")
    casts = "".join(f' --cast "{_window_text(window)}"' for window in settings.castings)
    return f'After the last break: test-ages curve "{words.clean(plan)}" --trial workbook.xlsx --out issued{casts}'


def _window_text(window: CastingWindow) -> str:
    first, last = (clock.isoformat(sep=" ", timespec="minutes") for clock in window)
    return first if first == last else f"{first}/{last}"


def _heading(sheet: Worksheet, row: int, text: str) -> int:
    put_text(sheet.cell(row, 1), text)
    sheet.cell(row, 1).font = HEADING
    return row + 1


def _pairs(sheet: Worksheet, row: int, pairs: Sequence[tuple[str, str]]) -> int:
    for term, said in pairs:
        put_text(sheet.cell(row, 1), term)
        put_text(sheet.cell(row, 2), said)
        for column in (1, 2):
            sheet.cell(row, column).alignment = Alignment(wrap_text=True, vertical="top")
        sheet.row_dimensions[row].height = row_height(said, width=WIDTHS[1])
        row += 1
    return row
