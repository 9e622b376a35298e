"""Prices that are hundreds of times the others: a thousands separator read as a decimal point, or the reverse."""

from __future__ import annotations

from planner.terms.plan.settings import Costs

# Common practice, no source: prices of one specimen lie within some ten times of each other, an attendance or a sensor
# within some hundred times of them.
MOST_TIMES, MOST_TIMES_OF_VISITS = 300.0, 1000.0


def price_doubts(costs: Costs) -> list[str]:
    """What a careful reader of the prices would ask about. Prices paid once may be of any size."""
    of_specimen = _stated(
        ("specimen", costs.specimen), ("preparation", costs.preparation), ("break", costs.break_one),
        ("pour_break", costs.pour_break),
    )  # fmt: skip
    of_visit = _stated(
        ("visit", costs.visit), ("visit_outside_hours", costs.visit_outside_hours), ("check_visit", costs.check_visit),
        ("instrumented", costs.instrumented),
    )  # fmt: skip
    texts = []
    for key, price in of_specimen.items():
        others = [other for name, other in of_specimen.items() if name != key]
        if len(others) > 1 or price > max(others, default=price):  # of two prices the dearer one is asked about
            texts += _doubt(key, price, others, costs.currency, MOST_TIMES)
    for key, price in of_visit.items():
        texts += _doubt(key, price, list(of_specimen.values()), costs.currency, MOST_TIMES_OF_VISITS)
    return texts


def _stated(*prices: tuple[str, float | None]) -> dict[str, float]:
    return {key: price for key, price in prices if price}


def _doubt(key: str, price: float, others: list[float], currency: str, most_times: float) -> list[str]:
    """A doubt where the price is far from every other."""
    if not others or min(max(price / other, other / price) for other in others) < most_times:
        return []
    away = min(price / other for other in others) if price > max(others) else min(other / price for other in others)
    times = f"{away:.0f} times" if price > max(others) else f"one {away:.0f}th of"
    return [
        f"costs.{key}: {price:g} {currency} is {times} the nearest price beside it. Where a point or a comma was "
        f"meant to part thousands or cents, write {price / 1000.0:g} or {price * 1000.0:g}, whichever it is."
    ]
