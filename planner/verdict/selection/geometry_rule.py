"""Which geometry is taken, of the best programme of each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.terms.plan.settings import JudgedOn, Target
from planner.terms.results.geometry.geometry_options import GeometryFigures, GeometryReason
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes

CENTS = 100.0  # money is compared to a hundredth


def taken_geometry(
    options: Sequence[GeometryFigures], target: Target, judged_on: JudgedOn
) -> tuple[int, GeometryReason]:
    """The rule of programmes: the cheapest that is good enough, else the cheapest that ties with the best.

    Each geometry stands as one programme. Where there are prices they take the place of the counts of specimens, since
    specimens of two geometries cost unlike.

    Parameters
    ----------
    options
        At least one of them was searched.

    Returns
    -------
    Its position, and why.
    """
    price = [_price(option) for option in options]
    rms = np.array([np.nan if option.error is None or option.refused else option.error.total_rms for option in options])
    programmes = FixedProgrammes(
        judged_on=judged_on,
        assurance=target.assurance,
        trial_batches=(1,),
        joint=np.zeros(len(options), dtype=np.int64),
        n_specimens=np.array(price, dtype=np.int64),
        rms=rms[:, None],
        within_tolerance=np.array([[option.within_tolerance or 0.0] for option in options]),
        is_within_limits=np.isfinite(rms)[:, None],
    )
    decision = programmes.decide()
    assert decision is not None  # one at least was not refused
    if np.isfinite(rms).sum() == 1:
        return decision.lowest.which, GeometryReason.ONLY_ONE
    if decision.fewest is not None:
        return decision.fewest.which, GeometryReason.CHEAPEST_ENOUGH
    tied = np.flatnonzero(rms <= decision.lowest.rms + target.immaterial_difference)
    return int(min(tied, key=lambda at: (price[at], rms[at]))), GeometryReason.CHEAPEST_TIED


def _price(option: GeometryFigures) -> int:
    if option.programme is None:
        return 0
    return option.programme.n_specimens if option.cost is None else round(option.cost * CENTS)
