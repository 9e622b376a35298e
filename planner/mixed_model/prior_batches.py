"""The earlier batches as the mixed model reads them: log means, their noise and their maturities.

Only cells count: how many specimens stand behind a mean, and how far specimens of one age fall apart.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PriorBatches:
    """Cell means of the earlier batches under one maturity setting. Holes have no specimens."""

    mean_mpa: FloatArray  # (n_batches, n_ages), anything in a hole
    n_specimens: FloatArray  # behind each mean, 0: a hole, (n_batches, n_ages)
    maturity_h: FloatArray  # (n_batches, n_ages), anything in a hole
    cv: FloatArray  # within-test scatter at each age, relative, (n_ages,)

    def __post_init__(self) -> None:
        shape = np.shape(self.mean_mpa)
        same = {"n_specimens": self.n_specimens, "maturity_h": self.maturity_h}
        wrong = [f"{name} {np.shape(value)}" for name, value in same.items() if np.shape(value) != shape]
        if len(shape) != 2 or wrong or np.shape(self.cv) != shape[1:]:
            listed = ", ".join([f"mean_mpa {shape}", *wrong, f"cv {np.shape(self.cv)}"])
            raise ValueError(f"Means, counts and maturities share the shape (n_batches, n_ages), given {listed}.")
        held = self.is_held
        bad = [
            name
            for name, value in (("mean_mpa", self.mean_mpa), ("maturity_h", self.maturity_h))
            if not np.all(np.isfinite(value[held]) & (value[held] > 0))
        ]
        if not np.all(np.isfinite(self.cv) & (self.cv > 0)):
            bad.append("cv")
        if bad:
            raise ValueError(f"Must be finite and above 0 wherever specimens were broken: {', '.join(bad)}.")
        if not np.all(held.any(axis=0)) or not np.all(held.any(axis=1)):
            raise ValueError("Every age and every batch needs a break. Leave out the rows and columns without one.")

    @property
    def n_batches(self) -> int:
        return int(self.mean_mpa.shape[0])

    @property
    def is_held(self) -> BoolArray:
        """Where specimens were broken, ``(n_batches, n_ages)``."""
        return np.asarray(self.n_specimens > 0)

    @property
    def log_mean(self) -> FloatArray:
        """Logarithm of the means, 0 in holes, ``(n_batches, n_ages)``."""
        return np.log(np.where(self.is_held, self.mean_mpa, 1.0))

    @property
    def log_maturity(self) -> FloatArray:
        """Logarithm of the maturities, 0 in holes, ``(n_batches, n_ages)``."""
        return np.log(np.where(self.is_held, self.maturity_h, 1.0))

    @property
    def noise(self) -> FloatArray:
        """Variance of the log means about the batch's own truth, 0 in holes, ``(n_batches, n_ages)``."""
        held = self.is_held
        return np.where(held, self.cv**2 / np.where(held, self.n_specimens, 1.0), 0.0)

    def without(self, left_out: Collection[int]) -> PriorBatches:
        """The others, and the ages that are still held."""
        kept = np.array([b for b in range(self.n_batches) if b not in left_out], dtype=np.int64)
        ages = self.is_held[kept].any(axis=0)
        return PriorBatches(
            mean_mpa=self.mean_mpa[kept][:, ages],
            n_specimens=self.n_specimens[kept][:, ages],
            maturity_h=self.maturity_h[kept][:, ages],
            cv=self.cv[ages],
        )
