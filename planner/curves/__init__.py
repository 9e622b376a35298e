"""Strength-maturity curves, one formula a file; `CURVES` lists them all by name."""

from .curve import Curve
from .table import CURVES

__all__ = ["CURVES", "Curve"]
