"""Every curve by its name, in the order in which choices are enumerated. A new curve is one line here."""

from __future__ import annotations

from planner.curves.curve import Curve
from planner.curves.exponential import Exponential
from planner.curves.hyperbolic import Hyperbolic
from planner.curves.logarithmic import Logarithmic
from planner.curves.piecewise import PiecewiseLinear, PiecewiseLogAge
from planner.terms.plan.settings import CurveName

CURVES: dict[CurveName, Curve] = {
    curve.name: curve for curve in (Hyperbolic(), Exponential(), Logarithmic(), PiecewiseLinear(), PiecewiseLogAge())
}
