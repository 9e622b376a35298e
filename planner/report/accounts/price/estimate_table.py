"""Estimates line by line and side by side."""

from __future__ import annotations

from collections.abc import Sequence

from planner.report.accounts.full_account import any_hour_words
from planner.report.accounts.parts.estimate_lines import EstimateLine, amount_cell, estimate_lines, price_cell
from planner.report.text import words
from planner.report.text.blocks import Column, Facts, Section, Table
from planner.terms.labels import schedule_label
from planner.terms.results.cost_item import CostKind
from planner.terms.results.programme_count import ANY_HOUR, Estimate

NAME = "Estimate, line by line"
Key = tuple[CostKind | None, str, int]
Keyed = dict[Key, EstimateLine]


def estimates_section(estimates: Sequence[Estimate], currency: str) -> Section:
    """Every line of every estimate; quantities alone where there are no prices."""
    has_prices = estimates[0].total is not None
    names = estimate_names(estimates)
    columns = [Column(heading="item")]
    if has_prices:
        columns.append(Column(heading="price", is_number=True))
    for name in names:
        columns.append(Column(heading="number" if has_prices else name, is_number=True))
        if has_prices:
            columns.append(Column(heading=name, is_number=True))
    found = [_keyed(estimate_lines(estimate)) for estimate in estimates]
    rows = tuple(_row(key, found, currency, has_prices=has_prices) for key in _merged(found))
    pairs = tuple(
        (name, f"{schedule_label(estimate.schedule)}; {casting_words(estimate)}")
        for name, estimate in zip(names, estimates, strict=True)
    )
    return Section(NAME, (Facts(pairs), Table(columns=tuple(columns), rows=rows)))


def visits_words(estimate: Estimate) -> str:
    """``3 visits, 1 of them outside hours``, of all trial batches."""
    n_inside, n_outside = (
        sum(round(item.quantity) for item in estimate.items if item.kind is kind)
        for kind in (CostKind.VISITS, CostKind.VISITS_OUTSIDE_HOURS)
    )
    n_visits = n_inside + n_outside
    text = f"{n_visits} {'visit' if n_visits == 1 else 'visits'}"
    return text + (f", {n_outside} of them outside hours" if n_outside else "")


def casting_words(estimate: Estimate) -> str:
    """Attendances of all trial batches and the hour they are counted for; ones without an hour of their own by name."""
    if estimate.casting == ANY_HOUR:
        each = f" for each of {estimate.count.n_trial_batches} trial batches" * (estimate.count.n_trial_batches > 1)
        return f"{visits_words(estimate)}, {any_hour_words(estimate)}{each}"
    return f"{visits_words(estimate)}, cast {estimate.casting}{alike_words(estimate)}"


def alike_words(estimate: Estimate) -> str:
    """That trial batches beyond the casting times asked for are priced as the last of these; "" where none are."""
    n_more = estimate.count.n_trial_batches - estimate.n_castings_asked
    if not estimate.n_castings_asked or n_more <= 0:
        return ""
    counted = "1 more trial batch is" if n_more == 1 else f"{n_more} more trial batches are"
    return f" ({counted} priced as cast at that time too; give --cast for each)"


def estimate_names(estimates: Sequence[Estimate]) -> tuple[str, ...]:
    """Labels, numbered where one stands there more than once."""
    labels = [words.clean(estimate.label, limit=20) for estimate in estimates]
    return tuple(
        f"{label} {labels[: place + 1].count(label)}" if labels.count(label) > 1 else label
        for place, label in enumerate(labels)
    )


def _keyed(lines: Sequence[EstimateLine]) -> Keyed:
    """Lines under what they are, their name and how often that stood before: a reader's names may be any."""
    found: Keyed = {}
    for line in lines:
        before = sum((kind, name) == (line.kind, line.name) for kind, name, _ in found)
        found[line.kind, line.name, before] = line
    return found


def _merged(found: Sequence[Keyed]) -> list[Key]:
    """Keys of all lines in order; one that an estimate lacks stands before what follows it."""
    merged: list[Key] = []
    for lines in found:
        place = 0
        for key in lines:
            if key in merged:
                place = merged.index(key) + 1
            else:
                merged.insert(place, key)
                place += 1
    return merged


def _row(key: Key, found: Sequence[Keyed], currency: str, *, has_prices: bool) -> tuple[str, ...]:
    first = next(lines[key] for lines in found if key in lines)
    row = [words.clean(first.name, limit=60)]
    if has_prices:
        row.append(price_cell(first))
    for lines in found:
        line = lines.get(key)
        row.append("" if line is None or line.quantity is None else f"{line.quantity:g}")
        if has_prices:
            row.append("" if line is None else amount_cell(line, currency))
    return tuple(row)
