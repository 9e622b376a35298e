"""Batches that lend each other strength: the population prior, the shape prior, and readings of a pour.

Arrays in, arrays out. The population prior serves one mix with several batches, the shape prior mixes of
different strength.
"""

from planner.curves.mean_curve import MeanCurve, mean_curve
from planner.mixed_model.early_plans import HeldOutErrors, HeldOutPours, enumerate_early_plans, judge_early_plans
from planner.mixed_model.growth_prior import GrowthPrior, SpreadPriors, estimate_growth_prior
from planner.mixed_model.prior_batches import PriorBatches
from planner.mixed_model.reading import (
    Belief,
    CellMeans,
    Information,
    Reading,
    centre,
    information,
    pour,
    read,
    read_pour,
    rescaled,
)
from planner.mixed_model.shape_prior import ShapeFit, ShapePrior, estimate_shape_prior, fit_shape
from planner.mixed_model.stranger import LevelTest, StrangerTest, judge_level, judge_stranger
from planner.mixed_model.trial_batches import TrialBatches

__all__ = [
    "Belief",
    "CellMeans",
    "GrowthPrior",
    "HeldOutErrors",
    "HeldOutPours",
    "Information",
    "LevelTest",
    "MeanCurve",
    "PriorBatches",
    "Reading",
    "ShapeFit",
    "ShapePrior",
    "SpreadPriors",
    "StrangerTest",
    "TrialBatches",
    "centre",
    "enumerate_early_plans",
    "estimate_growth_prior",
    "estimate_shape_prior",
    "fit_shape",
    "information",
    "judge_early_plans",
    "judge_level",
    "judge_stranger",
    "mean_curve",
    "pour",
    "read",
    "read_pour",
    "rescaled",
]
