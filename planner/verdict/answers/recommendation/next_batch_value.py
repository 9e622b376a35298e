"""What one more batch of breaks would do to the upper bound."""

from __future__ import annotations

from planner.terms.results.drawn_figures import Gain


def one_more_batch(bound_now: float | None, bound_after: float, *, ages_h: tuple[float, ...]) -> tuple[Gain, ...]:
    """What one more batch like those in the records would make of the own-batch bound; nothing without a bound."""
    if bound_now is None:
        return ()
    return (Gain(ages_h=ages_h, spread_now=None, spread_after=None, bound_now=bound_now, bound_after=bound_after),)
