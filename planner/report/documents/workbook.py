"""``workbook.xlsx``: what the laboratory works with, from casting to the last break, and reads back in."""

from __future__ import annotations

import errno
import gc
import io
import sys
from collections.abc import Sequence

from openpyxl import Workbook

from planner.laboratory.clock.break_slots import BreakTimes
from planner.report.sheets import breaks, compared, cost, programmes_sheet, specimens, temperatures
from planner.report.sheets.break_rows import programme_rows
from planner.report.sheets.breaks import fill_breaks
from planner.report.sheets.compared import fill_compared
from planner.report.sheets.cost import fill_cost
from planner.report.sheets.programmes_sheet import fill_programmes
from planner.report.sheets.sheet_cells import put_text
from planner.report.sheets.specimens import fill_specimens
from planner.report.sheets.summary_sheet import fill_summary
from planner.report.sheets.temperatures import fill_temperatures
from planner.report.text.shown_units import in_words
from planner.terms.plan.settings import Settings
from planner.terms.results.recommended.recommendation import Recommendation

SUMMARY = "Summary"


def render_workbook(
    recommendation: Recommendation, settings: Settings, *, castings: Sequence[BreakTimes] = ()
) -> bytes:
    """Write the workbook.

    Parameters
    ----------
    recommendation
        The result.
    settings
        Of the plan: programme, laboratory and prices.
    castings
        The recommended schedule on the clock, one for each trial batch that has a casting time.
    """
    book = Workbook()
    front = book.worksheets[0]
    front.title = SUMMARY
    rows = programme_rows(recommendation, settings, castings)
    fill_summary(front, recommendation, settings, castings)
    fill_specimens(book.create_sheet(specimens.NAME), recommendation, rows)
    fill_breaks(book.create_sheet(breaks.NAME), len(rows))
    fill_temperatures(book.create_sheet(temperatures.NAME))
    fill_cost(book.create_sheet(cost.NAME), recommendation, settings, castings)
    fill_compared(book.create_sheet(compared.NAME), recommendation)
    if recommendation.spending is not None:
        fill_programmes(book.create_sheet(programmes_sheet.NAME), recommendation.spending)
    _in_units(book)
    return saved(book)


def saved(book: Workbook) -> bytes:
    """The workbook as bytes; one message where the disk is full, for openpyxl writes its sheets to files first.

    Raises
    ------
    OSError
        Where they cannot be written.
    """
    stream = io.BytesIO()
    why: str | None = None
    before = sys.unraisablehook
    sys.unraisablehook = lambda _: None  # a half-written sheet closes itself, fails once more and would print that
    try:
        book.save(stream)
    except Exception as error:
        if not isinstance(error, OSError) and not type(error).__module__.startswith("lxml"):
            raise
        why = str(error)
    finally:
        if why is not None:
            gc.collect()
        sys.unraisablehook = before
    if why is not None:
        raise OSError(errno.ENOSPC, f"The workbook cannot be made: {why}")
    return stream.getvalue()


def _in_units(book: Workbook) -> None:
    """Sentences of every sheet in the units asked for; what is filled in and read back has its own."""
    for sheet in book.worksheets:
        if sheet.title in (specimens.NAME, breaks.NAME, temperatures.NAME):
            continue
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "s" and (shown := in_words(str(cell.value))) != cell.value:
                    put_text(cell, shown)
