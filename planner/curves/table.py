"""Every curve by its name, in the order in which choices are enumerated. A new curve is one line here."""

from __future__ import annotations

from planner.terms.settings import CurveName

from .curve import Curve
from .exponential import Exponential
from .hyperbolic import Hyperbolic
from .logarithmic import Logarithmic
from .piecewise import PiecewiseLinear, PiecewiseLogAge

CURVES: dict[CurveName, Curve] = {
    curve.name: curve for curve in (Hyperbolic(), Exponential(), Logarithmic(), PiecewiseLinear(), PiecewiseLogAge())
}
