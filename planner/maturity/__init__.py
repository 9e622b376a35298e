"""From temperatures to maturity: one method a file, and the maturity of every break.

Maturity is carried as hours at the reference temperature for every method, so that a curve and its
bounds mean the same whichever method made the abscissa.
"""

from planner.maturity.break_maturity import constant_maturity, maturities_at, maturity_at
from planner.maturity.equivalent_age import arrhenius_factor, equivalent_age
from planner.maturity.temperature_time import temperature_time_factor

__all__ = [
    "arrhenius_factor",
    "constant_maturity",
    "equivalent_age",
    "maturities_at",
    "maturity_at",
    "temperature_time_factor",
]
