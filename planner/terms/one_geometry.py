"""Refuse what is done after casting where a plan lists several geometries: nothing is converted there."""

from __future__ import annotations

from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError, Problem


def check_one_geometry(plan: Plan) -> None:
    """Refuse a plan with ``[[specimens]]`` before breaks of a trial batch or a pour are used.

    A curve fitted to cubes would else be read as cylinders, a sixth too strong.

    Raises
    ------
    InputError
        With what to write instead.
    """
    if plan.settings.specimens:
        raise InputError(
            [
                Problem(
                    plan.name,
                    "Breaks after casting are not converted between geometries, so no curve is issued from a plan that "
                    "lists several. Take out [[specimens]] and select one with [prior] geometry; where it is not what "
                    "the specification speaks of, the curve reads the strength of the specimens broken, and the "
                    "engineer must agree how it is converted.",
                    column="specimens",
                )
            ]
        )
