"""What attendances and the casting crew cost at each casting time, and the order of times that cost the same."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import AnyArray, BoolArray, FloatArray
from planner.terms.plan.settings import Costs


def price_and_rank(
    n_visits: AnyArray, n_outside: AnyArray, is_casting_outside: BoolArray, costs: Costs | None
) -> tuple[FloatArray, AnyArray]:
    """Price of attendances and of casting, and the order among equal prices, whole numbers, exact."""
    more = costs.other_per("visit") if costs else 0.0
    inside, outside = (costs.visit + more, costs.visit_outside_hours + more) if costs else (0.0, 0.0)
    price = (n_visits - n_outside) * np.float64(inside) + n_outside * np.float64(outside)
    price = price + casting_price(is_casting_outside, costs)
    rank = n_outside * np.float32(1000.0) + n_visits * np.float32(2.0) + is_casting_outside
    return np.asarray(price, dtype=np.float64), np.asarray(rank)


def casting_price(is_casting_outside: BoolArray, costs: Costs | None) -> FloatArray:
    """What the crew of one trial batch costs at each casting time, shape of `is_casting_outside`."""
    inside, outside = (costs.of_casting(is_outside_hours=late) if costs else 0.0 for late in (False, True))
    return np.where(is_casting_outside, np.float64(outside), np.float64(inside))


def companions_price(n_inside: AnyArray, n_outside: AnyArray, costs: Costs | None) -> FloatArray:
    """Attendances to break the companions of one trial batch, shape of the counts; their number outside without prices.

    Outside laboratory hours they cost what any attendance costs then.
    """
    if costs is None:
        return np.asarray(n_outside, dtype=np.float64)
    late = costs.visit_outside_hours + costs.other_per("visit")
    return n_inside * np.float64(costs.of_companions_visit) + n_outside * np.float64(late)
