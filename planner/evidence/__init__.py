"""Prior breaks as the engine needs them: cell means with maturities, what they are checked against, scatter."""

from planner.evidence.cells import Cells
from planner.evidence.tabulation import tabulate
from planner.evidence.within_test_scatter import Scatter, ScatterSource, within_test_scatter

__all__ = ["Cells", "Scatter", "ScatterSource", "tabulate", "within_test_scatter"]
