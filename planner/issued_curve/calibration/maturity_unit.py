"""In which unit maturity is written: hours of equivalent age, hours of age, or C h of temperature-time factor."""

from __future__ import annotations

from planner.terms.maturity import MaturitySetting


def maturity_unit(setting: MaturitySetting) -> tuple[str, float]:
    """Unit in which maturity is written, and how many of it an hour at the reference temperature has."""
    if setting.method == "temperature-time":
        return "C h", setting.reference_c - setting.constant
    return "h", 1.0
