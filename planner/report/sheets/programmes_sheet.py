"""Programmes with their figures as numbers: trial batches, specimens, errors, money."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from planner.report.accounts.parts.sample_size_account import programme_role
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
from planner.terms.labels import schedule_label
from planner.terms.results.programme_figures import Spending

NAME = "Programmes"
HEADINGS = (
    "trial batches",
    "specimens in all",
    "each trial batch",
    "own batch RMS",
    "own batch inside",
    "later pour RMS",
    "later pour inside",
    "later pour over-predicted",
    "cost",
    "visits",
    "",
)
WIDTHS = (9.0, 10.0, 44.0, 10.0, 10.0, 10.0, 10.0, 12.0, 12.0, 8.0, 22.0)


def fill_programmes(sheet: Worksheet, money: Spending) -> None:
    """Write a row for each programme that is listed, as many trial batches together, cheapest first."""
    put_headings(sheet, HEADINGS)
    set_widths(sheet, WIDTHS)
    for row, item in enumerate(money.programmes, start=2):
        later = item.next_batch
        put_number(sheet.cell(row, 1), item.n_trial_batches)
        put_number(sheet.cell(row, 2), item.n_specimens)
        put_text(sheet.cell(row, 3), schedule_label(item.schedule))
        put_number(sheet.cell(row, 4), item.own_batch_rms, PERCENT)
        put_number(sheet.cell(row, 5), item.own_batch_within_tolerance, PERCENT_WHOLE)
        put_number(sheet.cell(row, 6), None if later is None else later.rms, PERCENT)
        put_number(sheet.cell(row, 7), None if later is None else later.within_tolerance, PERCENT_WHOLE)
        put_number(sheet.cell(row, 8), None if later is None else later.over_predicted_beyond_tolerance, PERCENT_WHOLE)
        put_number(sheet.cell(row, 9), item.cost, MONEY)
        put_number(sheet.cell(row, 10), item.n_visits)
        put_text(sheet.cell(row, 11), programme_role(money, item))
    note = (
        f"Fixed programmes, judged on the {money.judged_on}, on batches that had no part in fitting them; not "
        "corrected for choosing. Costs, specimens and visits are of all trial batches together."
    )
    put_paragraph(sheet, len(money.programmes) + 3, note, last_column=5, width=83.0)
    set_up_print(sheet, is_landscape=True)
