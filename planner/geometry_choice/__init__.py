"""Which specimen to cast: every geometry searched as a plan of its own, and the best of each put side by side.

A plan with ``[[specimens]]`` has records of several geometries. For each of them the breaks are converted to what the
specification speaks of, and the whole search runs as if they were the only ones. Nothing inside the search knows of
geometries, so a plan of one geometry is answered as it always was. The rule that decides is
:mod:`planner.verdict.selection.geometry_rule`.
"""

from planner.geometry_choice.plan_alone import as_cast, plan_of, settings_of
from planner.geometry_choice.settling import settled

__all__ = ["as_cast", "plan_of", "settings_of", "settled"]
