"""Prior breaks as the engine needs them: cell means with maturities, what they are checked against, scatter."""

from .cells import Cells, tabulate
from .scatter import Scatter, within_test_scatter

__all__ = ["Cells", "Scatter", "tabulate", "within_test_scatter"]
