"""Temperatures that concrete should not pass while it hardens, and from which it must have been heated."""

from __future__ import annotations

HEATED_C = 55.0  # no weather and hardly any unheated concrete of usual sizes gets there; common practice, no source
PRECAST_LIMIT_C = 65.0  # heat-treated products in damp surroundings, EN 13369 (from memory)
IN_PLACE_LIMIT_C = 70.0  # concrete cast in place, EN 13670 (from memory)
