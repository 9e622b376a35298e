"""Whether the records tell how batches of one mix differ."""

from __future__ import annotations

import numpy as np

from planner.verdict.selection.search import Search


def why_not_one_mix(search: Search, *, fewest: int) -> str | None:
    """Why they do not, as the end of a sentence; None where they do."""
    views = search.cells.views
    if search.basis.is_drawn:
        return "the checks are drawn batches, not measured ones"
    if search.plan.settings.prior.hold_out == "mix" or len(set(views.mix)) > 1:
        return "the records hold several mixes, so they do not tell how pours of one mix differ"
    n_batches = len(set(views.batch))
    if n_batches < fewest:
        return f"{n_batches} batches can be checked and {fewest} are needed"
    if np.any(views.whole.maturity_h[:, views.whole.n_specimens > 0] <= 0):
        return "some concrete was never warm enough to gain any maturity"
    return None
