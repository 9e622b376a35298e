"""Growth families that batches are drawn from: more of them, and others, than are ever fitted.

A family gives the logarithm of strength over maturity. Its first parameter is the logarithm of strength at
a reference maturity, the others are logarithms (or logits) of what shapes the growth, so that a normal
spread between batches never makes a negative time. All but the exponential one start at a setting time.

The priors say what concrete does before any break is seen. They are wide on purpose: a half time may be
three times longer or shorter. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import FloatArray

SET_WIDTH = 0.15  # width of the smooth start as a share of the setting time; common practice, no source
DEFAULT_SET_H = 5.0  # setting time at 20 C where the plan states none; common practice, no source
_STRAIGHT = 40.0  # widths after setting, from which on ln(1 + e^x) is x to the last bit
_MOST = 600.0  # exponents beyond it are cut: strength is zero long before


@dataclass(frozen=True, slots=True)
class Shape:
    """What is known beforehand of one shape parameter."""

    name: str
    mean: float  # of the population mean
    sd: float  # of the population mean
    between_sd: float  # usual spread between batches of one mix


@dataclass(frozen=True, slots=True)
class Family:
    """One law of growth."""

    name: str
    shapes: tuple[Shape, ...]
    log_share: Callable[[FloatArray, FloatArray], FloatArray]  # (maturity, shapes) -> ln of the unscaled law
    is_fitted: bool  # a curve of the same form is among those that may be fitted

    @property
    def n_parameters(self) -> int:
        return 1 + len(self.shapes)

    def log_strength(self, maturity_h: FloatArray, parameters: FloatArray, *, reference_h: float) -> FloatArray:
        """Logarithm of strength.

        Parameters
        ----------
        maturity_h
            Above 0 [h at the reference temperature], shape ``(..., n)``, against ``parameters[..., None, :]``.
        parameters
            Shape ``(..., n_parameters)``.
        reference_h
            Where the first parameter is the logarithm of strength [h].
        """
        shapes = np.moveaxis(parameters[..., 1:], -1, 0)[..., None]
        at_reference = self.log_share(np.array([reference_h]), shapes)
        return np.asarray(parameters[..., :1] + self.log_share(maturity_h, shapes) - at_reference)


def hardening_h(maturity_h: FloatArray, log_set: FloatArray) -> FloatArray:
    """Hours since setting, with a smooth start: close to zero before it, never zero. Any shapes."""
    set_h = np.exp(log_set)
    width = SET_WIDTH * set_h
    scaled = np.asarray((maturity_h - set_h) / width)
    np.logaddexp(0.0, scaled, out=scaled, where=scaled < _STRAIGHT)
    return np.asarray(width * scaled)


def _hyperbolic(maturity_h: FloatArray, shapes: FloatArray) -> FloatArray:
    log_half, log_set = shapes
    since = hardening_h(maturity_h, log_set)
    return np.asarray(np.log(since) - np.log(since + np.exp(log_half)))


def _exponential(maturity_h: FloatArray, shapes: FloatArray) -> FloatArray:
    log_time, log_power = shapes
    return np.asarray(-np.exp(np.minimum(np.exp(log_power) * (log_time - np.log(maturity_h)), np.log(_MOST))))


def _power(maturity_h: FloatArray, shapes: FloatArray) -> FloatArray:
    log_half, log_power, log_set = shapes
    scaled = np.exp(log_power) * (np.log(hardening_h(maturity_h, log_set)) - log_half)
    return np.asarray(-np.logaddexp(0.0, -scaled))


def _two_stage(maturity_h: FloatArray, shapes: FloatArray) -> FloatArray:
    """A hyperbola for the fast part, a hyperbola in the root of time for the slow one."""
    logit_share, log_fast, log_slow, log_set = shapes
    since = hardening_h(maturity_h, log_set)
    share = 1.0 / (1.0 + np.exp(-logit_share))
    root = np.sqrt(since)
    fast = since / (since + np.exp(log_fast))
    slow = root / (root + np.exp(0.5 * log_slow))
    return np.asarray(np.log(share * fast + (1.0 - share) * slow))


def _logarithmic(maturity_h: FloatArray, shapes: FloatArray) -> FloatArray:
    """Straight in log age later on; no ultimate strength."""
    log_knee, log_set = shapes
    return np.asarray(np.log(np.log1p(hardening_h(maturity_h, log_set) / np.exp(log_knee))))


def families(*, final_set_h: float) -> tuple[Family, ...]:
    """List the families with their priors.

    Parameters
    ----------
    final_set_h
        Setting time that the plan states [h at the reference temperature]; 0 where it states none.
    """
    is_stated = final_set_h > 0
    setting = Shape("set_h", np.log(final_set_h if is_stated else DEFAULT_SET_H), 0.2 if is_stated else 0.5, 0.10)
    return (
        Family("hyperbolic", (Shape("half_h", np.log(40.0), 1.0, 0.15), setting), _hyperbolic, True),
        Family(
            "exponential",
            (Shape("time_h", np.log(20.0), 1.0, 0.15), Shape("power", np.log(0.7), 0.35, 0.06)),
            _exponential,
            True,
        ),
        Family(
            "power hyperbolic",
            (Shape("half_h", np.log(40.0), 1.0, 0.15), Shape("power", np.log(0.85), 0.25, 0.05), setting),
            _power,
            False,
        ),
        Family(
            "two-stage",
            (
                Shape("fast_share", 0.0, 0.8, 0.12),
                Shape("fast_h", np.log(6.0), 0.8, 0.12),
                Shape("slow_h", np.log(200.0), 0.8, 0.12),
                setting,
            ),
            _two_stage,
            False,
        ),
        Family("logarithmic", (Shape("knee_h", np.log(10.0), 1.0, 0.15), setting), _logarithmic, True),
    )
