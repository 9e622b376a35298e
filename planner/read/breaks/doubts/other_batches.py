"""What the other batches of a mix have where one has breaks, for thousands of batches each asked in turn."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Mapping
from statistics import fmean, median

from planner.terms.records import Break

Cell = tuple[str, float]  # curing, age [h]
Held = Mapping[Cell, list[Break]]


class OtherBatches:
    """Batches of one mix, each seen from the others.

    Parameters
    ----------
    batches
        The breaks of every batch by cell, none without breaks.
    """

    def __init__(self, batches: Mapping[str, Held]) -> None:
        self.batches = batches
        self._means: dict[str, dict[Cell, float]] = {}
        self._at: dict[Cell, list[float]] = defaultdict(list)  # means of all batches that have the cell, rising
        self._counts: dict[Cell, list[int]] = defaultdict(list)  # numbers of breaks, rising
        for name, held in batches.items():
            self._means[name] = {cell: fmean(item.strength_mpa for item in items) for cell, items in held.items()}
            for cell, items in held.items():
                self._at[cell].append(self._means[name][cell])
                self._counts[cell].append(len(items))
        for cell in self._at:
            self._at[cell].sort()
            self._counts[cell].sort()
        n_all_but_one = len(batches) - 1
        self._common = {cell for cell, means in self._at.items() if len(means) >= n_all_but_one}

    @property
    def n_others(self) -> int:
        """How many batches stand beside any one of them."""
        return len(self.batches) - 1

    def mean_mpa(self, batch: str, cell: Cell) -> float:
        """Mean strength of a batch at a cell that it has [MPa]."""
        return self._means[batch][cell]

    def n_having(self, cell: Cell, batch: str) -> int:
        """How many of the others have the cell."""
        return len(self._at.get(cell, ())) - (cell in self.batches[batch])

    def median_mpa(self, cell: Cell, batch: str) -> float:
        """Median of the others' means at the cell [MPa]; at least one must have it."""
        means = self._at[cell]
        if cell in self.batches[batch]:
            own = bisect_left(means, self._means[batch][cell])
            middle = (len(means) - 1) // 2  # the two about the middle once the batch's own is taken out
            low, high = (i + (i >= own) for i in ((len(means) - 2) // 2, middle))
            return median((means[low], means[high]))
        return median(means)

    def most_breaks(self, cell: Cell, batch: str) -> int:
        """Most breaks that another batch has at the cell; 0 where none has it."""
        counts = self._counts.get(cell, [])
        items = self.batches[batch].get(cell)
        if items is None or not counts or len(items) < counts[-1]:
            return counts[-1] if counts else 0
        return counts[-2] if len(counts) > 1 else 0

    def had_by_all_others(self, batch: str) -> set[Cell]:
        """Cells that every other batch has, whether the batch has them or not."""
        return {cell for cell in self._common if self.n_having(cell, batch) == self.n_others}

    def ratios(self, batch: str, *, fewest: int = 1) -> list[float]:
        """Strength of a batch over that of the others, at the cells that at least `fewest` of them have."""
        return [
            self._means[batch][cell] / self.median_mpa(cell, batch)
            for cell in self.batches[batch]
            if self.n_having(cell, batch) >= fewest
        ]
