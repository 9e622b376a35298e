"""Whether a withdrawn curve may be scaled down instead of being calibrated anew, and by how much.

Only where the checks span the maturities at which the curve decides and their ratio to the reading is flat over them;
a shape that no longer fits needs a new trial batch. Never upward: a check that lies high gives no strength away.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.issued_curve.rules.site_check import Pour
from planner.terms.arrays import FloatArray

FEWEST_CHECKS: Final = 3  # pours; a slope through two fits them always
SPAN_SLACK: Final = 1.25  # checks may miss a maturity that decides by this factor
FLAT_Z: Final = 1.959964  # a slope beyond it is no chance, 5 % two-sided


class Refusal(enum.Enum):
    """Why another scale does not do."""

    TOO_FEW_CHECKS = "too few checks"
    NOT_SPANNED = "deciding maturities not spanned"
    NOT_FLAT = "ratio not flat"
    NOT_LOWER = "not lower"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescaling:
    """What the checks say of another scale."""

    factor: float | None  # the readings are multiplied by it, below 1; None: refused
    refusal: Refusal | None
    n_checks: int  # pours that were used: from where the CUSUM last left zero
    mean_difference: float  # of them, each weighing by its variance
    weight: float  # of the checks against what is usual between batches, from 0 to 1
    change_over_span: float | None  # of the difference from the least to the largest maturity; None: not estimable
    span_h: tuple[float, float]  # least and largest maturity of the checks [h at the reference temperature]


def rescaling_of(
    pours: Sequence[Pour],
    *,
    later_rms: float,
    deciding_maturities_h: Sequence[float],
    tolerance: float,
    scale_sd: float | None = None,
) -> Rescaling:
    """Ask the pours since the CUSUM last left zero for another scale.

    The change of strength is taken as normal about none, as large as batches of the mix differ: the mean
    difference counts with ``scale^2 / (scale^2 + 1 / sum(1 / variance))``, a variance for each pour.

    Parameters
    ----------
    pours
        One or more, checked inside the curve's range.
    later_rms
        RMS error of the curve on a later pour, relative, above 0.
    deciding_maturities_h
        Maturities at which the curve decides [h at the reference temperature], one or more.
    tolerance
        Of the plan, relative.
    scale_sd
        Between batches, relative, above 0, as the curve carries it; None where it carries no model of its
        pours: then a later pour's whole error stands for it.
    """
    change_sd = later_rms if scale_sd is None else scale_sd
    precision = 1.0 / (later_rms**2 + np.array([pour.scatter for pour in pours]))
    mean = float(precision @ np.array([pour.difference for pour in pours]) / precision.sum())
    weight = float(change_sd**2 / (change_sd**2 + 1.0 / precision.sum()))
    checks = [check for pour in pours for check in pour.checks]
    log_maturity = np.log([check.companions.maturity_h for check in checks])
    slope, slope_sd = _slope(
        log_maturity,
        np.array([check.companions.difference for check in checks]),
        1.0 / (later_rms**2 + np.array([check.scatter for check in checks])),
    )
    change = None if slope is None else slope * float(np.ptp(log_maturity))
    refusal = None
    if len(pours) < FEWEST_CHECKS:
        refusal = Refusal.TOO_FEW_CHECKS
    elif slope is None or change is None or not _spans(log_maturity, np.log(np.asarray(deciding_maturities_h))):
        refusal = Refusal.NOT_SPANNED
    elif abs(slope) > FLAT_Z * slope_sd or abs(change) > tolerance:
        refusal = Refusal.NOT_FLAT
    elif mean >= 0:
        refusal = Refusal.NOT_LOWER
    return Rescaling(
        factor=1.0 + weight * mean if refusal is None else None,
        refusal=refusal,
        n_checks=len(pours),
        mean_difference=mean,
        weight=weight,
        change_over_span=change,
        span_h=(float(np.exp(log_maturity.min())), float(np.exp(log_maturity.max()))),
    )


def _spans(log_maturity: FloatArray, deciding: FloatArray) -> bool:
    slack = math.log(SPAN_SLACK)
    return bool(log_maturity.min() - slack <= deciding.min() and deciding.max() <= log_maturity.max() + slack)


def _slope(log_maturity: FloatArray, difference: FloatArray, precision: FloatArray) -> tuple[float | None, float]:
    """Slope of the difference over the logarithm of maturity with its standard deviation; None at one maturity."""
    centred = log_maturity - precision @ log_maturity / precision.sum()
    information = float(precision @ centred**2)
    if information <= 1e-12 * float(precision.sum()):
        return None, math.inf
    return float(precision @ (centred * difference)) / information, information**-0.5
