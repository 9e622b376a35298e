"""Cautions about the maturity constants that cubes of mortar tell, held against the concrete."""

from __future__ import annotations

from collections.abc import Iterator

from planner.terms.labels import percent
from planner.terms.plan.mortar import MortarConstant, MortarConstants
from planner.terms.problems import Caution
from planner.terms.results.constants import Constants, ConstantsOfMethod

NAMES = {"equivalent age": ("Q", "K"), "temperature-time": ("a datum", "C")}


def mortar_cautions(study: Constants | None, mortar: MortarConstants | None) -> Iterator[Caution]:
    """Where mortar and companions contradict each other, by method; nothing where either says nothing."""
    if study is None or mortar is None:
        return
    for method in study.methods:
        constant = mortar.q_k if method.method == "equivalent age" else mortar.datum_c
        if constant.taken is not None and constant.taken in [point.constant for point in method.points]:
            yield from _contradiction(method, constant, study)


def _contradiction(method: ConstantsOfMethod, constant: MortarConstant, study: Constants) -> Iterator[Caution]:
    errors = {
        point.constant: rms
        for point in method.points
        if (rms := point.later_rms if study.judged_on == "later pour" else point.own_rms) is not None
    }
    best = min(errors, key=lambda value: errors[value])
    low, high = method.about_as_good
    if constant.taken not in errors or (low <= constant.most and constant.least <= high):
        return
    name, unit = NAMES[method.method]
    worse = errors[constant.taken]
    if worse <= errors[best] + study.immaterial:
        return
    yield Caution(
        "mortar-against-companions",
        f"The mortar gives {name} of {constant.taken:g} {unit} (95 %: {constant.least:.4g} to {constant.most:.4g}), "
        f"but the breaks of the concrete are read best with {best:g} {unit}: {percent(errors[best])} off on a "
        f"{study.judged_on}, {percent(worse)} with the mortar's. One of the two may not be this concrete: compare "
        "cement, admixtures and mixing temperature of the mortar, and look at the temperature records.",
    )
