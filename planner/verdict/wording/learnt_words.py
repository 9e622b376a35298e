"""What curves with a prior rest on, and why one was not offered."""

from __future__ import annotations

from planner.mixed_model import SpreadPriors
from planner.mixed_model.shape_prior import WEAK_SHAPE_SD
from planner.terms.labels import percent
from planner.terms.plan.settings import CurveName


def learnt_words(curves: tuple[CurveName, ...], *, is_by_mix: bool, n_units: int, most: int) -> str:
    """On what they rest, the weak priors of their variances included.

    Parameters
    ----------
    most
        Units that are learnt from at the most; of more an even choice.
    """
    unit = "mix" if is_by_mix else "batch"
    weak, parts = SpreadPriors(), []
    if "population prior" in curves:
        medians = (percent(one, digits=0) for one in (weak.scale, weak.rate, weak.departure))
        strength, rate, departure = medians
        parts.append(
            f"population prior: mean curve of the others, a batch shifted in strength and in time; weak log-normal "
            f"priors about {strength}, {rate} and {departure} on the standard deviations of strength, time and "
            f"departures ({weak.log_sd:g} in the logarithm)"
        )
    if "shape prior" in curves:
        parts.append(
            f"shape prior: level free, ln tau and ln a about the mean of the others, their covariance with one more "
            f"{unit} of {WEAK_SHAPE_SD[0]:g} and {WEAK_SHAPE_SD[1]:g}"
        )
    limit = f"an even choice of {most} of the " if n_units > most else ""
    return (
        f"Curves with a prior rest on {limit}{n_units - 1} other {'mixes' if is_by_mix else 'batches'} where a {unit} "
        f"is judged on its own concrete, on {n_units - 2} where its choice is held out"
        + ("" if is_by_mix else " or a later pour is read")
        + f" ({'; '.join(parts)}). With few of them the uncertainty of their mean widens the prior; the within-test "
        "scatter is that of all records. In resampled worlds a prior stays that of all others."
    )


def not_offered_words(curve: CurveName, reason: str) -> str:
    """Why a curve of the plan is not among the choices."""
    return f"The {curve} is not among the choices: {reason}."
