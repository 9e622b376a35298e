"""Batches that were never cast: drawn from what earlier breaks say of the mix, or from published growth."""

from planner.population.drawing import Drawn, draw_cells
from planner.population.information_gain import ages_of, evidence_gain, gains_from, usual_additions
from planner.population.judged_batches import Basis, basis_of, some_batches
from planner.population.population_model import Population, population_of
from planner.population.published_growth import LAWS
from planner.population.published_population import is_promising_nothing, published_population
from planner.population.wording.draw_cautions import nearest_tested_h, untested_ages
from planner.population.wording.published_words import published_first_line
from planner.population.wording.site_cautions import site_cautions
from planner.terms.results.drawn_figures import Gain, TemperatureRow

__all__ = [
    "LAWS",
    "Basis",
    "Drawn",
    "Gain",
    "Population",
    "TemperatureRow",
    "ages_of",
    "basis_of",
    "draw_cells",
    "evidence_gain",
    "gains_from",
    "is_promising_nothing",
    "nearest_tested_h",
    "population_of",
    "published_first_line",
    "published_population",
    "site_cautions",
    "some_batches",
    "untested_ages",
    "usual_additions",
]
