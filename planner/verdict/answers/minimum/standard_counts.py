"""What a standard asks of a calibration, in counts, and the least programme of the plan that has them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.terms.arrays import BoolArray
from planner.terms.problems import InputError, Problem
from planner.terms.results.minimum.minimum_figures import AtLeast
from planner.verdict.answers.minimum.allowed_programmes import AllowedProgrammes


@dataclass(frozen=True, slots=True)
class StandardCounts:
    """Counts of one trial batch."""

    name: str
    fewest_specimens: int
    fewest_ages: int

    def are_had_by(self, choices: ChoiceSet) -> BoolArray:
        """Which schedules have them, ``(n_choices,)``."""
        return np.asarray((choices.n_specimens >= self.fewest_specimens) & (choices.n_ages >= self.fewest_ages))


# ASTM C1074: at least 15 cylinders, broken at five ages (memory).
STANDARDS = (StandardCounts("ASTM C1074", 15, 5),)


def counts_of(standard: str) -> StandardCounts:
    """The counts of a standard, its name written in any case and spacing.

    Raises
    ------
    InputError
        Where it is not known.
    """
    for known in STANDARDS:
        if _folded(known.name) == _folded(standard):
            return known
    names = ", ".join(f'"{known.name}"' for known in STANDARDS)
    raise InputError(
        [
            Problem(
                "--at-least",
                f'The counts of "{standard}" are not known. Known: {names}. For others set [choices] fewest_ages.',
            )
        ]
    )


def at_least(allowed: AllowedProgrammes, standard: str, *, is_asked: bool = True) -> AtLeast:
    """The least allowed programme with a standard's counts: of those that keep the target, else of all.

    It has a break on both sides of every target where any such programme is allowed.

    Raises
    ------
    InputError
        As :func:`counts_of`.
    """
    asked = counts_of(standard)
    has_counts = asked.are_had_by(allowed.choices)
    ways = (has_counts & allowed.is_spanning, has_counts)
    found = [take(is_counted) for take in (allowed.fewest_keeping, allowed.fewest_allowed) for is_counted in ways]
    return AtLeast(
        standard=asked.name,
        fewest_specimens=asked.fewest_specimens,
        fewest_ages=asked.fewest_ages,
        programme=next((programme for programme in found if programme is not None), None),
        is_asked=is_asked,
    )


def _folded(text: str) -> str:
    return "".join(text.split()).casefold()
