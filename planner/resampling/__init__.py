"""Errors of every joint choice in every batch, and what resampling says about the ones that are shown."""

from .draws import Draws
from .figures import ShownChoice, figures_of, resample_choice
from .matrix import ErrorMatrix, error_matrix
from .pairs import PairErrors, pair_errors
from .scoring import Scoring
from .sweeps import Joint, joints_of

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
