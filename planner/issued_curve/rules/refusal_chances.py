"""How likely the acceptance rule has a calibration repeated, for curves that err as earlier batches did.

The errors are those of held-out batches; the scatter of the companions is added at points spread evenly over it, so
that no seed changes the answer. The rule is that of :mod:`.acceptance` with one more round where it asks for more
breaks; tests hold both equal.

References
----------
Points: additive recurrence on the roots of x^(d+1) = x + 1, the generalised golden ratio (memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from planner.issued_curve.rules.acceptance import z_limit
from planner.issued_curve.rules.rule_limits import WORTH_MORE_BREAKS
from planner.resampling.errors.arithmetic import share_inside
from planner.terms.arrays import BoolArray, FloatArray

N_POINTS = 4096  # of the companions' scatter for each batch; twice as many change the third digit of a per cent


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RefusalChances:
    """For 0, 1, ... groups of companions in reserve, as many as there are targets at the most."""

    refused: FloatArray  # chance that the calibration is repeated, (n_targets + 1,)
    refused_by_batch: FloatArray  # the same for curves that err as each batch did, (n_targets + 1, n_batches)
    more: FloatArray  # chance that more are broken, (n_targets + 1,)
    groups_broken: FloatArray  # expected groups broken from the reserve, (n_targets + 1,)


def refusal_chances(
    errors: FloatArray, *, own_rms: float, within_test_cv: FloatArray, n_companions: int, tolerance: float
) -> RefusalChances:
    """Work the chances out.

    Parameters
    ----------
    errors
        Of curves on their own batches against true strength, broken over read less 1, ``(n_batches, n_targets)``.
    own_rms
        What the rule takes for the error of a curve on its own batch, relative.
    within_test_cv
        Scatter of single companions at each target, relative, ``(n_targets,)``.
    n_companions
        Broken at each target, 1 or more.
    tolerance
        Relative, above 0.
    """
    n_batches, n_targets = errors.shape
    scatter = np.asarray(within_test_cv, dtype=np.float64) / np.sqrt(n_companions)
    normal = _normal_points(2 * n_targets)
    first, second = normal[:, :n_targets] * scatter, normal[:, n_targets:] * scatter
    rule = _Rule(own_rms, scatter, tolerance)
    difference = (errors[:, None, :] + first[None]).reshape(-1, n_targets)
    is_accepted, wanted = rule.judge(difference)
    merged = difference + np.where(wanted, (np.tile(second, (n_batches, 1)) - np.tile(first, (n_batches, 1))) / 2, 0.0)
    is_saved = rule.holds(merged, n_rounds=np.where(wanted, 2.0, 1.0))
    n_wanted = wanted.sum(axis=1)
    refused, more, broken = [], [], []
    for n_groups in range(n_targets + 1):
        is_tried = ~is_accepted & (n_wanted > 0) & (n_wanted <= n_groups)
        refused.append(~is_accepted & ~(is_tried & is_saved))
        more.append(is_tried.mean())
        broken.append((is_tried * n_wanted).mean())
    return RefusalChances(
        refused=np.array([item.mean() for item in refused]),
        refused_by_batch=np.array([item.reshape(n_batches, -1).mean(axis=1) for item in refused]),
        more=np.array(more),
        groups_broken=np.array(broken),
    )


@dataclass(frozen=True, slots=True)
class _Rule:
    """The rule over many calibrations at once; every group of companions at a target and inside the curve's range."""

    own_rms: float
    scatter: FloatArray  # standard deviation of the mean of a group, (n_targets,)
    tolerance: float

    @property
    def limit(self) -> float:
        return z_limit(len(self.scatter))

    def holds(self, difference: FloatArray, *, n_rounds: FloatArray | float = 1.0) -> BoolArray:
        """Whether the calibration is issued, ``(n,)``; `n_rounds` times the companions behind each difference."""
        sd = np.sqrt(self.own_rms**2 + self.scatter**2 / n_rounds)
        is_within = (np.abs(difference) <= self.limit * sd).all(axis=1)
        return np.asarray(is_within & (np.abs(difference.mean(axis=1)) <= self.tolerance))

    def judge(self, difference: FloatArray) -> tuple[BoolArray, BoolArray]:
        """Which are issued, ``(n,)``, and where more companions are broken else, ``(n, n_targets)``."""
        is_issued = self.holds(difference)
        beyond = np.abs(difference) > self.limit * np.sqrt(self.own_rms**2 + self.scatter**2)
        reach = self.limit * np.sqrt(self.own_rms**2 + self.scatter**2 / 2)
        chance = np.where(beyond, self._chance_to_turn(difference, self.scatter**2, reach), 1.0).min(axis=1)
        mean = difference.mean(axis=1)
        is_mean_out = np.abs(mean) > self.tolerance
        of_mean = self._chance_to_turn(mean, np.sum(self.scatter**2) / len(self.scatter) ** 2, self.tolerance)
        chance = np.where(is_mean_out, np.minimum(chance, of_mean), chance)
        alone = is_mean_out & ~beyond.any(axis=1)
        where = np.where(alone[:, None], np.abs(difference) > self.tolerance, beyond)
        return is_issued, np.asarray(where & (~is_issued & (chance >= WORTH_MORE_BREAKS))[:, None])

    def _chance_to_turn(
        self, difference: FloatArray, scatter: FloatArray | float, reach: FloatArray | float
    ) -> FloatArray:
        share = self.own_rms**2 / (self.own_rms**2 + scatter)
        spread = 0.5 * np.sqrt(self.own_rms**2 * (1.0 - share) + scatter)
        return share_inside(difference * (1.0 + share) / 2.0, spread, reach)


def _normal_points(n_dimensions: int) -> FloatArray:
    """Standard normal points, evenly spread, ``(N_POINTS, n_dimensions)``."""
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (n_dimensions + 1))
    steps = root ** -np.arange(1.0, n_dimensions + 1)
    return np.asarray(ndtri((0.5 + np.arange(1, N_POINTS + 1)[:, None] * steps) % 1.0))
