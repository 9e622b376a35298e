"""Strength-maturity curves, one formula a file; `CURVES` lists them all by name."""

from planner.curves.curve import Curve
from planner.curves.table import CURVES

__all__ = ["CURVES", "Curve"]
