"""How much the maturity constants matter, in a section."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.terms.labels import percent
from planner.terms.results.constants import CarefulConstant, Constants, ConstantsOfMethod
from planner.terms.results.recommended.recommendation import Recommendation

HEADING = "How much the maturity constant matters"
UNITS = {"equivalent age": "K", "temperature-time": "C"}
SEARCHED = "Half-way between coarse neighbours of the plan's constants others were searched beside them."
NAMES = {"equivalent age": "Q", "temperature-time": "datum temperature"}


def constants_section(advice: Recommendation) -> Section:
    """The constants that are about as good, and what they make of the hours; nothing where none are told apart."""
    study = advice.constants
    if study is None:
        return Section(HEADING, ())
    careful = () if advice.careful is None else (_careful_words(advice.careful),)
    bullets = Bullets((*(_method_words(method, study) for method in study.methods), *careful, SEARCHED))
    return Section(HEADING, (bullets, *(_table(method, advice) for method in study.methods if method.hours)))


def _method_words(method: ConstantsOfMethod, study: Constants) -> str:
    name, unit = NAMES[method.method], UNITS[method.method]
    errors = [
        (point.later_rms if study.judged_on == "later pour" else point.own_rms, point.constant)
        for point in method.points
    ]
    known = [(rms, constant) for rms, constant in errors if rms is not None]
    (least, at), (most, worst) = min(known), max(known)
    low, high = method.about_as_good
    between = f"{name} {low:g} {unit} alone is" if low == high else f"{name} from {low:g} to {high:g} {unit} is"
    text = (
        f"{between} about as good on a {study.judged_on} (within {percent(study.immaterial, digits=2)}); least "
        f"{words.share(least)} at {at:g} {unit}, most {words.share(most)} at {worst:g} {unit}."
    )
    ends = (method.points[0].constant, method.points[-1].constant)
    if low in ends or high in ends:
        text += " The end of what was tried is among them: the records do not tell this constant."
    return text


def _careful_words(found: CarefulConstant) -> str:
    name, unit = NAMES[found.method], UNITS[found.method]
    low, high = found.site_c
    if len(found.tied) == 1:
        return (
            f"Of what was searched, {name} {found.chosen:g} {unit} alone reads so well, on later pours and on the own "
            "batch: nothing had to be chosen for the ends of the site's range."
        )
    listed = ", ".join(f"{constant:g}" for constant in found.tied)
    return (
        f"Of what was searched, {name} {listed} {unit} tie, on later pours and on the own batch. "
        f"{found.chosen:g} {unit} is taken: from {low:g} to {high:g} C, the site's range, it exceeds the lowest "
        f"reading of them least, at most by {words.share(found.over_reading)}, at {found.worst_c:g} C. Every safe "
        "reading is lowered by that."
    )


def _table(method: ConstantsOfMethod, advice: Recommendation) -> Table:
    name, unit = NAMES[method.method], UNITS[method.method]
    study = advice.constants
    assert study is not None
    low, high = method.about_as_good
    columns = (
        Column(heading="target"),
        Column(heading="concrete, C", is_number=True),
        Column(heading=f"{low:g} {unit}, h", is_number=True),
        Column(heading=f"{study.chosen.constant:g} {unit} (recommended), h", is_number=True),
        Column(heading=f"{high:g} {unit}, h", is_number=True),
    )
    rows = tuple(
        (
            advice.target_label(row.age_h),
            f"{row.temperature_c:g}",
            _hours(row.lowest_h),
            _hours(row.chosen_h),
            _hours(row.highest_h),
        )
        for row in method.hours
    )
    is_age = any(strength_mpa is None for strength_mpa in advice.target_waits_mpa or (None,))
    told = [f"an age: hours that count as it at {study.chosen.reference_c:g} C"] if is_age else []
    if advice.waiting is not None:
        told.append(
            "a strength: hours until the mean curve of the earlier batches, fitted under that constant, reads it"
        )
    note = (
        f"By {name}, at that temperature. Of {'; of '.join(told)}. The fewer hours a constant asks for, the more "
        "strength it reads: in the cold a low Q or a low datum, in the heat a high one."
    )
    return Table(columns=columns, rows=rows, note=note)


def _hours(hours: float | None) -> str:
    return "-" if hours is None else f"{hours:.1f}"
