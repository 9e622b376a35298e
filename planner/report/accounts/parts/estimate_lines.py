"""The lines of an estimate with the sums between them, as every table of one shows them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.report.text import words
from planner.terms.labels import money_label
from planner.terms.results.cost_item import CostItem, CostKind, CostPart
from planner.terms.results.programme_count import Estimate

OPEN = "open"
CENTS = 3  # characters of a decimal point and cents
IN_ALL, CALIBRATION, BESIDE = "in all", "calibration", "checks and pours"


@dataclass(frozen=True, slots=True)
class EstimateLine:
    """An item, or a sum of items."""

    kind: CostKind | None  # None: a sum
    name: str
    quantity: float | None  # None: a sum
    price: float | None
    amount: float | None  # None without prices
    is_open: bool = False

    @property
    def is_sum(self) -> bool:
        return self.kind is None


def estimate_lines(estimate: Estimate) -> tuple[EstimateLine, ...]:
    """Items in order; a sum after each part where there are several, and the sum of all last."""
    return tuple(_lines(estimate))


def _lines(estimate: Estimate) -> Iterator[EstimateLine]:
    parts = {item.part for item in estimate.items}
    for part, name in ((CostPart.CALIBRATION, CALIBRATION), (CostPart.CHECKS_AND_POURS, BESIDE)):
        yield from (_line(item) for item in estimate.items if item.part is part)
        if len(parts) > 1 and part in parts and estimate.total is not None:
            yield EstimateLine(None, name, None, None, estimate.amount_of(part))
    yield from (_line(item) for item in estimate.items if item.part is CostPart.CONTINGENCY)
    if estimate.total is not None:
        yield EstimateLine(None, IN_ALL, None, None, estimate.in_all)


def _line(item: CostItem) -> EstimateLine:
    is_share = item.part is CostPart.CONTINGENCY
    price = None if is_share else item.unit_price
    return EstimateLine(item.kind, item.name, item.quantity, price, item.amount, item.is_open)


def price_cell(line: EstimateLine) -> str:
    """Unit price, as exact as the amount asks for; nothing beside a sum or a share."""
    if line.price is None:
        return ""
    return OPEN if line.is_open else _unit_price(line.price)


def amount_cell(line: EstimateLine, currency: str) -> str:
    """To the cent; sums with their currency."""
    if line.amount is None or line.is_open:
        return OPEN
    text = money_label(line.amount)
    return f"{text} {words.clean(currency, limit=8)}".strip() if line.is_sum else text


def _unit_price(price: float) -> str:
    """Parts of a cent where several prices make up one, so that a line can be worked out by hand."""
    text = f"{price:.4f}".rstrip("0")
    return money_label(price) if len(text) - text.index(".") <= CENTS else text
