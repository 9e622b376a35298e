"""``workbook.xlsx``: what the laboratory works with, from casting to the last break, and reads back in."""

from __future__ import annotations

import io
from collections.abc import Sequence

from openpyxl import Workbook

from ..laboratory.break_times import BreakTimes
from ..terms.recommendation import Recommendation
from ..terms.settings import Settings
from .sheets import breaks, compared, cost, specimens, temperatures
from .sheets.breaks import fill_breaks
from .sheets.compared import fill_compared
from .sheets.cost import fill_cost
from .sheets.programme_rows import programme_rows
from .sheets.specimens import fill_specimens
from .sheets.summary import fill_summary
from .sheets.temperatures import fill_temperatures

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
    fill_summary(front, recommendation, castings)
    fill_specimens(book.create_sheet(specimens.NAME), recommendation, rows)
    fill_breaks(book.create_sheet(breaks.NAME), len(rows))
    fill_temperatures(book.create_sheet(temperatures.NAME))
    fill_cost(book.create_sheet(cost.NAME), recommendation, settings, castings)
    fill_compared(book.create_sheet(compared.NAME), recommendation)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
