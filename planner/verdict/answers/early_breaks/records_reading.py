"""How well the earlier batches' own mean curve reads a later pour, each of them held out in turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.issued_curve.calibration.issued import RECORDS_CURVE_FEWEST
from planner.mixed_model import PriorBatches, judge_early_plans
from planner.mixed_model.growth_prior import SpreadPriors
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Settings
from planner.verdict.validation.early_figures import Figures, best_plan, figures_of
from planner.verdict.validation.pours_of_cells import pours_of_cells


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class RecordsReading:
    """The earlier batches as pours that are read from the others alone."""

    batches: PriorBatches
    figures: Figures  # of a reading on a later pour


def records_reading(cells: Cells, settings: Settings, maturity: MaturitySetting) -> RecordsReading | None:
    """Read every earlier batch from the mean curve of the others.

    Parameters
    ----------
    cells
        Measured ones of one mix.
    maturity
        The recommended constants, one of those of the cells.

    Returns
    -------
    None with fewer batches than a calibration needs.
    """
    if len(set(cells.views.batch)) < RECORDS_CURVE_FEWEST:
        return None
    pours = pours_of_cells(cells, (), settings.target.target_weights, setting=cells.settings.index(maturity))
    errors = judge_early_plans(pours.held_out, np.zeros((1, 0), dtype=np.int64))
    picked = best_plan(errors, pours, np.zeros(1, dtype=np.int64))
    if picked is None:
        return None
    n_freedom = pours.held_out.batches.n_batches - 2 + SpreadPriors().worth_batches
    return RecordsReading(
        batches=pours.held_out.batches,
        figures=figures_of(picked, errors, pours, settings.target, n_freedom=n_freedom),
    )
