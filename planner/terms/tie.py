"""How much worse a tied choice may be: the rule and the search that feeds it must agree."""

from __future__ import annotations

TIE_FACTOR = 1.21  # most that its mean loss, and variance, may be of the best's: 10 % in RMS
