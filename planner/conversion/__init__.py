"""Strength of one geometry told by another, from specimens cast together. Start at `estimated_conversion`."""

from planner.conversion.conversion import Conversion, estimated_conversion, stated_conversion
from planner.conversion.converted_records import converted_records
from planner.conversion.pairs import Pairs, pairs_of

__all__ = ["Conversion", "Pairs", "converted_records", "estimated_conversion", "pairs_of", "stated_conversion"]
