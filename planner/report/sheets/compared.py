"""The compared schedules with their figures as numbers."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from planner.report.accounts.parts.comparison import BEATEN_MARK, beaten_note, merged_choices, role_words, shown_choices
from planner.report.sheets.sheet_cells import (
    MONEY,
    PERCENT,
    PERCENT_WHOLE,
    put_headings,
    put_number,
    put_paragraph,
    put_text,
    set_up_print,
    set_widths,
)
from planner.report.text import words
from planner.terms.labels import schedule_label
from planner.terms.results.recommended.recommendation import Recommendation

NAME = "Compared schedules"
HEADINGS = (
    "choice",
    "ages x specimens",
    "specimens",
    "last age, h",
    "curve, weighting, constant",
    "RMS error",
    "bias",
    "mean absolute",
    "95 % absolute",
    "inside tolerance",
    "over-predicted beyond it",
    "worst batch",
    "its error",
    "batches",
    "cost",
)
WIDTHS = (24.0, 44.0, 10.0, 9.0, 40.0, 9.0, 9.0, 10.0, 10.0, 10.0, 12.0, 16.0, 9.0, 9.0, 12.0)


def fill_compared(sheet: Worksheet, advice: Recommendation) -> None:
    """Write a row for each compared schedule."""
    put_headings(sheet, HEADINGS)
    set_widths(sheet, WIDTHS)
    rows = merged_choices(shown_choices(advice))
    for row, (roles, choice) in enumerate(rows, start=2):
        error = choice.error
        put_text(sheet.cell(row, 1), role_words(roles) + (BEATEN_MARK if choice.is_beaten else ""))
        put_text(sheet.cell(row, 2), schedule_label(choice.schedule))
        put_number(sheet.cell(row, 3), choice.schedule.n_specimens)
        put_number(sheet.cell(row, 4), choice.schedule.last_age_h)
        put_text(sheet.cell(row, 5), words.short_model(choice))
        for column, figure in enumerate((error.rms, error.bias, error.mean_abs, error.p95_abs), start=6):
            put_number(sheet.cell(row, column), figure, PERCENT)
        put_number(sheet.cell(row, 10), error.within_tolerance, PERCENT_WHOLE)
        put_number(sheet.cell(row, 11), error.over_predicted_beyond_tolerance, PERCENT_WHOLE)
        put_text(sheet.cell(row, 12), error.worst_batch.batch)
        put_number(sheet.cell(row, 13), error.worst_batch.error, PERCENT)
        put_number(sheet.cell(row, 14), choice.n_batches)
        put_number(sheet.cell(row, 15), choice.cost, MONEY)
    note = f"Errors on {words.judges_words(advice)}, own batch, against true strength; not corrected for the search."
    note = f"{note} {words.legend(advice, '')}".rstrip() + words.equal_gain_words(advice)
    note += beaten_note([choice for _, choice in rows])
    put_paragraph(sheet, len(rows) + 3, note, last_column=5, width=110.0)
    set_up_print(sheet, is_landscape=True)
