"""``estimate.xlsx``: every estimate line by line with live sums, and what else one could buy."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from planner.report.accounts.price.bid_account import NOTHING_CAST, open_words
from planner.report.accounts.price.estimate_table import casting_words, estimate_names
from planner.report.accounts.price.price_parts_account import final_words, first_words
from planner.report.documents.workbook import saved
from planner.report.sheets.cost_lines import put_lines
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
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.programme_count import Estimate

ALTERNATIVES = "Alternatives"
NO_PRICES = "The plan states no prices ([costs]): quantities alone, and every amount is 0."


def render_estimate_workbook(answer: PriceAnswer) -> bytes:
    """Write the workbook: a sheet for each estimate, the one to bid first."""
    book = Workbook()
    currency = words.clean(answer.recommendation.currency, limit=8)
    names = estimate_names(answer.estimates)
    for place, (name, estimate) in enumerate(zip(names, answer.estimates, strict=True)):
        sheet = book.worksheets[0] if place == 0 else book.create_sheet()
        sheet.title = f"{place + 1} {name}"[:31]
        _fill_estimate(sheet, estimate, currency, is_not_cast=answer.relies_on_records)
    _fill_alternatives(book.create_sheet(ALTERNATIVES), answer, currency)
    return saved(book)


def _fill_estimate(sheet: Worksheet, estimate: Estimate, currency: str, *, is_not_cast: bool) -> None:
    set_up_print(sheet, is_landscape=False)
    set_widths(sheet, (46.0, 12.0, 14.0, 16.0, 30.0))
    unit = f", {currency}" if currency else ""
    put_headings(sheet, ("item", "quantity", f"price{unit}", f"amount{unit}", "note"))
    last = put_lines(sheet, 2, estimate.items)
    text = f"{schedule_label(estimate.schedule)}; {casting_words(estimate)}."
    if estimate.total is None:
        text = f"{text} {NO_PRICES}"
    if is_not_cast:
        text = f"{text} {NOTHING_CAST}"
    put_paragraph(sheet, last + 2, text, last_column=5, width=110.0)


def _fill_alternatives(sheet: Worksheet, answer: PriceAnswer, currency: str) -> None:
    set_up_print(sheet, is_landscape=True)
    set_widths(sheet, (42.0, 12.0, 14.0, 14.0, 10.0, 26.0, 16.0, 50.0))
    unit = f", {currency}" if currency else ""
    put_headings(
        sheet,
        ("programme", "specimens", f"cost{unit}", "later pour, RMS", "inside", "first curve", "final", "each batch"),
    )
    for row, item in enumerate(answer.alternatives, start=2):
        put_text(sheet.cell(row, 1), item.name + (" (to bid)" if item.is_recommended else ""))
        put_number(sheet.cell(row, 2), item.n_specimens)
        put_number(sheet.cell(row, 3), item.cost, MONEY)
        put_number(sheet.cell(row, 4), item.later_rms, PERCENT)
        put_number(sheet.cell(row, 5), item.within_tolerance, PERCENT_WHOLE)
        put_text(sheet.cell(row, 6), first_words(item))
        put_text(sheet.cell(row, 7), final_words(item))
        put_text(sheet.cell(row, 8), "" if item.schedule is None else schedule_label(item.schedule))
    if open_words(answer):
        put_paragraph(sheet, len(answer.alternatives) + 3, open_words(answer), last_column=8, width=180.0)
