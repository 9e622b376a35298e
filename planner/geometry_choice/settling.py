"""From a plan that lists several geometries to the plan of the one that is taken, with all of them side by side."""

from __future__ import annotations

from dataclasses import replace

from planner.conversion.stated_conversions import conversion_figures
from planner.geometry_choice.tried_geometry import Tried, try_geometry
from planner.steps.searching import Work
from planner.terms.plan.settings import JudgedOn, Plan
from planner.terms.problems import InputError, Problem
from planner.terms.results.geometry.geometry_options import GeometryAnswer, GeometryOption
from planner.terms.worded import worded
from planner.verdict.selection.geometry_rule import taken_geometry


def settled(plan: Plan, work: Work) -> tuple[Plan, GeometryAnswer | None]:
    """Choose the geometry where the plan lists several; a plan without ``[[specimens]]`` is handed back as it is.

    Raises
    ------
    InputError
        Where no listed geometry can be searched, with the reason of each.
    """
    if not plan.settings.specimens:
        return plan, None
    tried = [try_geometry(plan, kind, work) for kind in plan.settings.specimens]
    if all(one.option.refused for one in tried):
        raise InputError(
            Problem(plan.name, f"{one.kind.geometry}: {one.option.refused}", column="specimens.geometry")
            for one in tried
        )
    judged_on: JudgedOn = "later pour" if any(_is_later(one) for one in tried) else "own batch"
    tried = [_comparable(one, judged_on) for one in tried]
    at, because = taken_geometry([one.option for one in tried], plan.settings.target, judged_on)
    options = tuple(worded(GeometryOption, one.option, is_recommended=place == at) for place, one in enumerate(tried))
    answer = GeometryAnswer(
        target_geometry=plan.settings.target.geometry,
        options=options,
        conversions=tuple(
            conversion_figures(one.conversion, plan.records, plan.settings.target.ages_h)
            for one in tried
            if one.conversion is not None
        ),
        because=because,
    )
    chosen = tried[at].plan
    assert chosen is not None
    return chosen, answer


def _is_later(one: Tried) -> bool:
    return not one.option.refused and one.judged_on == "later pour"


def _comparable(one: Tried, judged_on: JudgedOn) -> Tried:
    """Leave out what can be judged on its own batch alone, where others are judged on later pours."""
    if one.option.refused or one.judged_on == judged_on:
        return one
    text = "its batches cannot be read on one another, so it cannot be compared with the others on later pours"
    return replace(one, option=replace(one.option, refused=text))
