"""What the laboratory can do: every schedule it allows, in a fixed order."""

from .enumerate import ChoiceSet, choice_set, enumerate_choices, spread_evenly
from .rivals import customary_schedule, equal_gain_schedule, log_spaced_schedule

__all__ = [
    "ChoiceSet",
    "choice_set",
    "customary_schedule",
    "enumerate_choices",
    "equal_gain_schedule",
    "log_spaced_schedule",
    "spread_evenly",
]
