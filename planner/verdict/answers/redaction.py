"""A recommendation that may put schedules in order but say nothing of how many batches keep the tolerance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.terms.recommendation import ErrorFigures, RatedChoice, Recommendation, TargetFigures

UNKNOWN = float("nan")


def without_promises(told: Recommendation) -> Recommendation:
    """Take every share inside the tolerance out; what is left of the errors only orders the schedules."""

    def rated(choice: RatedChoice) -> RatedChoice:
        return replace(
            choice,
            error=_figures(choice.error),
            per_target=tuple(
                TargetFigures(age_h=item.age_h, figures=_figures(item.figures)) for item in choice.per_target
            ),
        )

    def optional(choice: RatedChoice | None) -> RatedChoice | None:
        return None if choice is None else rated(choice)

    table = told.choices
    unknown = np.full(len(table.rms), UNKNOWN)
    return replace(
        told,
        recommended=rated(told.recommended),
        best=rated(told.best),
        customary=optional(told.customary),
        equal_gain=optional(told.equal_gain),
        compared=tuple(rated(choice) for choice in told.compared),
        tied=tuple(rated(choice) for choice in told.tied),
        next_best=tuple(rated(choice) for choice in told.next_best),
        choices=replace(table, within_tolerance=unknown, over_predicted_beyond_tolerance=unknown),
    )


def _figures(error: ErrorFigures) -> ErrorFigures:
    return replace(error, within_tolerance=UNKNOWN, over_predicted_beyond_tolerance=UNKNOWN)
