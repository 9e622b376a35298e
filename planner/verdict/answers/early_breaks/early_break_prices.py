"""What calibration and early breaks of the pours cost together, and which of them are worth it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.settings import Costs, Target


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EarlyPrices:
    """Prices of a number of trial batches, and of a number of early specimens of every pour."""

    costs: Costs | None
    pours: Pours
    n_trial_specimens: int  # of each trial batch
    calibration: Callable[[int], float | None]  # money of so many trial batches of the recommended schedule

    def of_pour(self, n_early: int) -> float | None:
        """Money of the early breaks of one pour; None without prices."""
        return None if self.costs is None else n_early * self.costs.of_pour_break

    def of_pours(self, n_early: int) -> float | None:
        """Money of the early breaks of all pours; None without prices or their number."""
        each = self.of_pour(n_early)
        return None if each is None or self.pours.number is None else self.pours.number * each

    def of_calibration(self, n_trials: int) -> float | None:
        """Money before the pours: nothing is cast where the records alone are read; None without prices."""
        if self.costs is None:
            return None
        return self.calibration(n_trials) if n_trials else 0.0

    def key(self, n_trials: int, n_early: int) -> tuple[float, ...]:
        """What programmes are ranked by, the cheapest first: money of calibration and all pours, else their specimens.

        Where the plan does not say how many pours there are, specimens of a pour come before those of the calibration.
        """
        cast = n_trials * self.n_trial_specimens
        if self.pours.number is None:
            return (n_early, cast)
        calibration, pours = self.of_calibration(n_trials), self.of_pours(n_early)
        if calibration is None or pours is None:
            return (cast + self.pours.number * n_early, n_early)
        return (calibration + pours, n_early)


def worth(programmes: Sequence[tuple[float, float, tuple[float, ...]]], target: Target) -> tuple[int, bool]:
    """The cheapest that reads within the tolerance at the assurance; else the cheapest that ties with the best.

    Parameters
    ----------
    programmes
        For every programme: half-width that holds the assured share of pours, RMS error, and price; the first of
        equals is taken.

    Returns
    -------
    Its place, and whether it reads within the tolerance.
    """
    enough = [place for place, (reads_within, _, _) in enumerate(programmes) if reads_within <= target.tolerance]
    least = min(rms for _, rms, _ in programmes)
    tied = [place for place, (_, rms, _) in enumerate(programmes) if rms <= least + target.immaterial_difference]
    return min(enough or tied, key=lambda place: programmes[place][2]), bool(enough)
