"""The recommended curve fitted to every earlier batch at the recommended ages."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.batch_fit import BatchFit, fit_batch
from planner.issued_curve.calibration.batch_means import batch_means
from planner.resampling import Joint
from planner.resampling.priors.one_fit import learnt_numbers
from planner.terms.plan.settings import PRIOR_CURVE_NAMES
from planner.terms.records import Break
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.selection.search import Search


def recommended_fits(
    search: Search, schedule: Schedule, choice: RatedChoice | Joint, *, cells: Cells | None = None
) -> list[BatchFit]:
    """One fit for every earlier batch that holds all recommended ages.

    Parameters
    ----------
    cells
        They hold the maturity setting of the choice; those of the search where None.
    """
    cells = search.cells if cells is None else cells
    plan = search.plan
    break_maturity = BreakMaturity(plan.records.curing_records, plan.settings.prior.standard_curing_c)
    wanted = frozenset(schedule.ages_h)
    learnt = None
    if choice.curve in PRIOR_CURVE_NAMES:
        learnt = learnt_numbers(cells, choice.curve, cells.settings.index(choice.maturity))
    fits = []
    for batch in plan.records.batches:
        own = [item for item in plan.records.breaks if item.batch == batch and _serves(item, wanted)]
        own = [item for item in own if choice.maturity.method == "age" or break_maturity.has_maturity(item)]
        if wanted <= {item.age_h for item in own}:
            means = batch_means(own, break_maturity, choice.maturity, cells.scatter)
            if np.all(np.diff(means.maturity_h) > 0):
                fits.append(fit_batch(means, choice.curve, choice.weighting, learnt=learnt))
    return fits


def _serves(item: Break, ages_h: frozenset[float]) -> bool:
    return item.curing == "standard" and item.age_h in ages_h
