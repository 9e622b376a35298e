"""Batches that were never cast: drawn from what earlier breaks say of the mix, or from published growth."""

from .bound import bound_over_populations
from .draw_cautions import nearest_tested_h, untested_ages
from .drawing import Drawn, draw_cells
from .gain import Gain, evidence_gain
from .model import Population, population_of
from .predictive import PredictiveCheck, predictive_check
from .published import LAWS
from .site import TemperatureRow, site_cautions, temperature_table
from .unbroken import is_promising_nothing, published_first_line, published_population

__all__ = [
    "LAWS",
    "Drawn",
    "Gain",
    "Population",
    "PredictiveCheck",
    "TemperatureRow",
    "bound_over_populations",
    "draw_cells",
    "evidence_gain",
    "is_promising_nothing",
    "nearest_tested_h",
    "population_of",
    "predictive_check",
    "published_first_line",
    "published_population",
    "site_cautions",
    "temperature_table",
    "untested_ages",
]
