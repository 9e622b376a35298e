"""Values of a clause in the words a person would write."""

from __future__ import annotations

import math

from planner.report.text import words
from planner.terms.labels import age_label
from planner.terms.plan.settings import PRIOR_CURVE_NAMES
from planner.terms.results.minimum.clause_terms import ClauseAge, ClauseCurve, ClauseTerms

AGE_ZERO_WORDS = {
    "water added": "the time water meets cement",
    "moulded": "the end of moulding the specimens",
    "placed": "the time the concrete is placed",
}
AGE_ZERO_OPEN = "the moment that the engineer names in writing before the first trial batch, the same for all batches"
CURVE_FORMS = {
    "hyperbolic": "S = Su (t - t0) / (t - t0 + h), with Su, h and t0 fitted",
    "exponential": "S = Su exp(-(tau / t)^a), with Su, tau and a fitted",
    "logarithmic": "S = a + b ln t, with a and b fitted",
    "piecewise linear": "straight lines in t through the means of the ages",
    "piecewise linear in log age": "straight lines in ln t through the means of the ages",
    "population prior": "the mean curve of the earlier batches, shifted in ln S and ln t as the means of the ages tell",
    "shape prior": "S = Su exp(-(tau / t)^a), with Su fitted, tau and a held by those of the earlier batches",
}
WEIGHTING_RULES = {
    "relative": "every age counting by its relative error",
    "absolute": "every age counting by its error in strength",
}
SHORT_MIN, STEP_MIN, HALF_HOURS_H = 15, 5, 6.0


def deviation_words(deviation_h: float) -> str:
    """``±15 min``, ``±2 h``: rounded down, so that no more is permitted than stands in the standard."""
    minutes = math.floor(60.0 * deviation_h + 1e-6)
    if minutes < 60:
        whole = minutes if minutes < SHORT_MIN else minutes // STEP_MIN * STEP_MIN
        return f"±{max(whole, 1)} min"
    if deviation_h < HALF_HOURS_H:
        return f"±{math.floor(2.0 * deviation_h + 1e-6) / 2.0:g} h"
    return f"±{math.floor(deviation_h + 1e-6):g} h"


def age_words(age: ClauseAge) -> str:
    """``4 h (±4 min): 2 specimens``."""
    deviation = "" if age.permitted_deviation_h is None else f" ({deviation_words(age.permitted_deviation_h)})"
    return f"{age_label(age.age_h)}{deviation}: {age.n_specimens} specimen{'s' if age.n_specimens != 1 else ''}"


def ages_listed(ages: tuple[ClauseAge, ...]) -> str:
    """All ages of one trial batch in one sentence part."""
    return "; ".join(age_words(age) for age in ages)


def n_broken(ages: tuple[ClauseAge, ...]) -> int:
    """Specimens of one trial batch that are broken."""
    return sum(age.n_specimens for age in ages)


def batches_words(number: int) -> str:
    """``1 trial batch``, ``3 trial batches``."""
    return f"{number} trial {'batch' if number == 1 else 'batches'}"


def mixes_words(clause: ClauseTerms) -> str:
    """The mix or mixes, by name where they have one."""
    named = [words.clean(mix, limit=60) for mix in clause.mixes if mix]
    return ", ".join(named) if named else "the mix named in the contract"


def geometry_words(clause: ClauseTerms) -> str:
    """The specimens by their geometry."""
    return words.clean(clause.geometry, limit=60) or "specimens of one geometry, named by the engineer"


def read_geometry_words(clause: ClauseTerms) -> str:
    """Whose strength is read: that of the specimens, or what theirs is converted to."""
    found = clause.conversion
    if found is None:
        return geometry_words(clause)
    return f"{words.clean(found.to_geometry, limit=60)}, told by {geometry_words(clause)}"


def curve_words(item: ClauseCurve, *, is_named: bool) -> str:
    """One mix's curve with its form."""
    head = f"for {words.clean(item.mix, limit=60) or 'the mix'} " if is_named else ""
    weighting = "" if item.curve in PRIOR_CURVE_NAMES else f", {WEIGHTING_RULES[item.weighting]}"
    return f"{head}the {item.curve} curve, {CURVE_FORMS[item.curve]}{weighting}"


def temperatures_words(low_c: float, high_c: float) -> str:
    """``18 to 29 C``."""
    return f"{low_c:g} to {high_c:g} C"


def strengths_words(low_mpa: float, mean_mpa: float, high_mpa: float) -> str:
    """``16 to 45 MPa (mean 31 MPa)``."""
    return f"{low_mpa:.0f} to {high_mpa:.0f} MPa (mean {mean_mpa:.0f} MPa)"
