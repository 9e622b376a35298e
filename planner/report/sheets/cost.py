"""The price of the programme item by item, with live sums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from openpyxl.worksheet.worksheet import Worksheet

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.costs.cost_items import itemise
from planner.report.accounts.clock.clock_account import CLOCK
from planner.report.sheets.cost_lines import put_lines
from planner.report.sheets.sheet_cells import (
    put_headings,
    put_paragraph,
    set_up_print,
    set_widths,
)
from planner.report.text import words
from planner.terms.labels import clock_label
from planner.terms.plan.settings import Settings
from planner.terms.results.programme_count import ANY_HOUR
from planner.terms.results.recommended.recommendation import Recommendation

NAME = "Cost"


def fill_cost(sheet: Worksheet, advice: Recommendation, settings: Settings, castings: Sequence[BreakTimes]) -> None:
    """Write items, quantities, prices and amounts; without prices only a sentence."""
    set_up_print(sheet, is_landscape=False)
    set_widths(sheet, (36.0, 12.0, 14.0, 16.0, 36.0))
    if settings.costs is None:
        put_paragraph(sheet, 1, "The plan states no prices ([costs]); nothing is estimated.", last_column=4, width=78.0)
        return
    currency = words.clean(settings.costs.currency, limit=8)
    put_headings(sheet, ("item", "quantity", f"price, {currency}", f"amount, {currency}", "note"))
    n_batches = (
        settings.programme_asked.trial_batches if advice.estimate is None else advice.estimate.count.n_trial_batches
    )
    items = itemise(
        advice.recommended.schedule,
        settings.costs,
        replace(settings.programme_asked, trial_batches=n_batches, most_trial_batches=None),
        settings.laboratory,
        castings,
        targets_h=settings.target.ages_h,
        pour_breaks=None if advice.early_breaks is None else advice.early_breaks.pour_breaks,
    )
    visits = _casting_words(advice, castings)
    put_lines(sheet, 2, items, note=lambda item: visits if item.kind.is_schedule_visit else "")


def _casting_words(advice: Recommendation, castings: Sequence[BreakTimes]) -> str:
    """Which casting's visits are priced; the summary may speak of another."""
    if castings:
        return "if cast " + " and ".join(clock_label(times.cast_at, CLOCK) for times in castings)
    casting = ANY_HOUR if advice.estimate is None else advice.estimate.casting
    return "" if casting == ANY_HOUR else f"if cast {casting}"
