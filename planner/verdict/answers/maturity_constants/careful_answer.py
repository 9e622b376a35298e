"""What may still be over-read at the ends of the site's range, whichever of the tied maturity constants is right."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.results.constants import CarefulConstant
from planner.verdict.answers.maturity_constants.recommended_fits import recommended_fits
from planner.verdict.selection.careful_constant import excess
from planner.verdict.selection.search import Search


def careful_answer(search: Search) -> CarefulConstant | None:
    """The constants that tie, and by how much the recommended one may over-read if another of them is the true one.

    The reading at the maturity that the recommended constant gives the concrete, over the reading at the least that
    any tied constant gives it, at the maturity of every target; by the mean of the recommended curves of the earlier
    batches. Where a constant gives concrete at an end no maturity at all, that end is left out: nothing is read there.
    None where no range of the site is stated, batches are drawn, or there is one constant.
    """
    chosen, site_c = search.chosen, search.plan.settings.site_temperature_c
    if chosen is None or site_c is None or not chosen.alike:
        return None
    joint = search.matrix.joints[chosen.taken.joint]
    settings = [search.matrix.joints[at].maturity for at in chosen.alike]
    fits = [fit.fit for fit in recommended_fits(search, search.matrix.choices.schedule(chosen.taken.which), joint)]
    targets_h = np.array(search.plan.settings.target.ages_h)

    def read(maturity_h: FloatArray) -> FloatArray:
        return np.asarray(np.mean([fit.predict(maturity_h) for fit in fits], axis=0))

    over = [
        (float(np.max(read(targets_h * (1.0 + share)) / read(targets_h)) - 1.0), end)
        for share, end in zip(excess(settings, site_c)[settings.index(joint.maturity)], site_c, strict=True)
        if fits and np.isfinite(share)
    ]
    worst, worst_c = max(over, default=(0.0, site_c[1]))
    return CarefulConstant(
        method=joint.maturity.method,
        tied=tuple(sorted(setting.constant for setting in settings)),
        chosen=joint.maturity.constant,
        site_c=site_c,
        over_reading=worst,
        worst_c=worst_c,
    )


def over_reading_of(search: Search) -> float:
    """By how much every safe reading is lowered for the constant's sake, relative; 0 where nothing is asked of it."""
    found = careful_answer(search)
    return 0.0 if found is None else found.over_reading
