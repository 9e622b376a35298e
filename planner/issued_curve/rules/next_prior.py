"""What site checks say of the next batch of the mix, before another curve is planned.

The curve of n batches departs from the mean of the mix by an offset of variance ``later^2 / (n + 1)``, which all its
checks share; every batch departs from that mean with ``later^2 n / (n + 1)``. Both are normal, so each checked pour
narrows what is known of the offset, and the next batch is expected where the mean then lies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planner.issued_curve.rules.site_check import Pour


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPrior:
    """The next batch beside the curve, before and after the checks; relative figures."""

    n_pours: int  # inside the range of the curve
    expected: float  # its strength over that read, less 1; before the checks 0
    sd_before: float
    sd_after: float


def next_prior(pours: Sequence[Pour], *, later_rms: float, n_curves: int) -> NextPrior:
    """Take the checked pours as batches of the mix.

    Parameters
    ----------
    pours
        Checked inside the curve's range; may be none.
    later_rms
        RMS error of the curve on a later pour, relative, above 0.
    n_curves
        Batches whose mean the curve is, 1 or more.

    Raises
    ------
    ValueError
        Where a figure is out of range.
    """
    if not later_rms > 0 or n_curves < 1:
        raise ValueError(
            f"A later pour needs an error above 0 and a curve of one batch or more, given {later_rms} and {n_curves}."
        )
    shared = later_rms**2 / (n_curves + 1)
    between = later_rms**2 - shared
    weights = [1.0 / (between + pour.scatter) for pour in pours]
    precision = 1.0 / shared + sum(weights)
    expected = sum(weight * pour.difference for weight, pour in zip(weights, pours, strict=True)) / precision
    return NextPrior(
        n_pours=len(pours),
        expected=expected,
        sd_before=later_rms,
        sd_after=math.sqrt(1.0 / precision + between),
    )
