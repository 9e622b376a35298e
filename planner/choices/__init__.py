"""What the laboratory can do: every schedule it allows, in a fixed order."""

from planner.choices.choice_set import ChoiceSet, choice_set
from planner.choices.enumerate import count_patterns, enumerate_choices, offered_ages, spread_evenly
from planner.choices.given_choices import extra_choices
from planner.choices.limit_words import beyond_limits, beyond_limits_words
from planner.choices.reference_choices import customary_schedule, equal_gain_schedule, log_spaced_schedule

__all__ = [
    "ChoiceSet",
    "beyond_limits",
    "beyond_limits_words",
    "choice_set",
    "count_patterns",
    "customary_schedule",
    "enumerate_choices",
    "equal_gain_schedule",
    "extra_choices",
    "log_spaced_schedule",
    "offered_ages",
    "spread_evenly",
]
