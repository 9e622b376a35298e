"""How the program ends; the same numbers stand in the table of many plans."""

from __future__ import annotations

DONE = 0
FAULT = 1  # of the program itself
BAD_INPUT = 2  # input or usage
NO_SCHEDULE = 3  # the inputs are fine but no schedule satisfies them
INTERRUPTED = 130
