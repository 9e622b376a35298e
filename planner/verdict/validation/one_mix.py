"""Whether the records tell how batches of one mix differ."""

from __future__ import annotations

import numpy as np

from planner.verdict.selection.search import Search
from planner.verdict.wording.mix_words import CHECKS_ARE_DRAWN, NEVER_WARM, SEVERAL_MIXES, few_checked_words


def why_not_one_mix(search: Search, *, fewest: int) -> str | None:
    """Why they do not, as the end of a sentence; None where they do."""
    views = search.cells.views
    if search.basis.is_drawn:
        return CHECKS_ARE_DRAWN
    if search.plan.settings.prior.hold_out == "mix" or len(set(views.mix)) > 1:
        return SEVERAL_MIXES
    n_batches = len(set(views.batch))
    if n_batches < fewest:
        return few_checked_words(n_batches, fewest)
    if np.any(views.whole.maturity_h[:, views.whole.n_specimens > 0] <= 0):
        return NEVER_WARM
    return None
