"""Errors of every joint choice in every batch, and what resampling says about the ones that are shown."""

from planner.resampling.errors.draws import Draws
from planner.resampling.errors.error_figures import ShownChoice, figures_of, resample_choice
from planner.resampling.errors.later_pours.cross_batch import PairErrors, pair_errors
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint, joints_of
from planner.resampling.search.error_matrix import ErrorMatrix, error_matrix

__all__ = [
    "Draws",
    "ErrorMatrix",
    "Joint",
    "PairErrors",
    "Scoring",
    "ShownChoice",
    "error_matrix",
    "figures_of",
    "joints_of",
    "pair_errors",
    "resample_choice",
]
