"""Cautions about the geometry of specimens: a conversion in use, small sizes, a specification of another geometry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.terms.labels import age_label, percent
from planner.terms.plan.geometry import least_side_mm
from planner.terms.problems import Caution
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.verdict.wording.cautions.circumstances import Circumstances

SMALL_MM = 75.0  # below, fibres and coarse aggregate count; common practice, no source
TIMES_ASTM, TIMES_EN = 3.0, 3.5  # least size over the largest aggregate, ASTM C192 and EN 12390-1 (from memory)
TIMES_FIBRE = 3.0  # least size over the length of fibres, ASTM C1609 (from memory)


def geometry_cautions(about: Circumstances) -> Iterator[Caution]:
    """What the geometry of the specimens gives cause for."""
    wanted, broken = about.settings.target.geometry, about.geometry
    answer = about.geometries
    if answer is not None and answer.conversion is not None:
        yield from _converted(answer.conversion)
        yield from _not_credited(about)
    elif wanted and broken and broken != wanted and answer is None:
        yield Caution(
            "specification-of-another-geometry",
            f"The specification speaks of the {wanted}, the records are of the {broken}, and nothing is converted: "
            "every strength here is that of the records' specimens. List both under [[specimens]], with batches that "
            "have both; a class pair such as C30/37 is no conversion.",
        )
    offered = [one.geometry for one in answer.options if not one.refused] if answer is not None else [broken]
    sides = {geometry: side for geometry in offered if (side := _side_mm(geometry)) is not None}
    yield from _coarse(sides, about.settings.aggregate_mm)
    yield from _fibrous(sides, about.settings.fibre_mm)
    if broken in sides and about.settings.aggregate_mm is None:
        yield from _small(broken, sides[broken])


def _converted(conversion: ConversionFigures) -> Iterator[Caution]:
    broken = conversion.from_geometry  # begins the sentence
    pair = f"{broken[:1].upper()}{broken[1:]} read as {conversion.to_geometry}"
    low, high = conversion.span_mpa
    if conversion.ratio_se is None:
        yield Caution(
            "conversion-stated",
            f"{pair}: the factor {conversion.ratio:.3f} with {percent(conversion.between_batch_cv)} is the plan's "
            "word, no pairs of these records check it. Do not release on it before both geometries were cast together "
            "in three batches or more and the engineer agrees.",
        )
        return
    beyond = [f"{mpa:.0f} MPa at {age_label(age)}" for age, mpa, _ in conversion.deciding if not low <= mpa <= high]
    if beyond:
        yield Caution(
            "conversion-outside-pairs",
            f"{pair}: the pairs hold {low:.1f} to {high:.1f} MPa and do not span {', '.join(beyond)}, the strength "
            "that decides. Cast pairs there before the curve serves the specification.",
        )
    yield Caution(
        "conversion-in-use",
        f"{pair}, by {conversion.n_pairs} pairs in {conversion.n_batches} batches. It may serve a specification that "
        f"speaks of the {conversion.to_geometry} only while the pairs span the deciding strength, safe readings rest "
        "on the total error as here, and the responsible engineer agrees. Class pairs such as C30/37 and the "
        "length-to-diameter corrections of ASTM C39 are no such conversion.",
    )
    if conversion.drift_per_decade is not None:
        yield Caution(
            "conversion-changes-with-age",
            f"{pair}: what the conversion leaves changes by {percent(conversion.drift_per_decade, is_signed=True)} for "
            "ten times the age. Cast pairs at the deciding age.",
        )


def _not_credited(about: Circumstances) -> Iterator[Caution]:
    """A covariance below nought would make the total smaller than its parts; few batches show such a one by chance."""
    answer = about.geometries
    error = None if answer is None else answer.recommended.error
    if error is None or error.not_credited == 0.0 or error.shown_rms is None:
        return
    yield Caution(
        "conversion-and-curve-offset",
        f"In the batches that judged it, errors of curve and conversion partly cancel: {percent(error.shown_rms)} in "
        f"all. So few batches show such a thing by chance, so it is not credited: every figure here rests on "
        f"{percent(error.total_rms)}.",
    )


def _side_mm(geometry: str) -> float | None:
    try:
        return least_side_mm(geometry)
    except ValueError:
        return None


def _smaller(sides_mm: Mapping[str, float], size_mm: float, times: float) -> list[str]:
    """Specimens with a side below so many times a size, each with its own number of times."""
    return [f"{name} ({side / size_mm:.1f} times)" for name, side in sides_mm.items() if side < times * size_mm]


def _coarse(sides_mm: Mapping[str, float], aggregate_mm: float | None) -> Iterator[Caution]:
    if aggregate_mm is None:
        return
    wrong = _smaller(sides_mm, aggregate_mm, TIMES_EN)
    if wrong:
        yield Caution(
            "aggregate-too-coarse",
            f"For aggregate of {aggregate_mm:g} mm the least side is to be {TIMES_EN * aggregate_mm:.0f} mm by "
            f"EN 12390-1 ({TIMES_EN:g} times) and {TIMES_ASTM * aggregate_mm:.0f} mm by ASTM C192 "
            f"({TIMES_ASTM:g} times), both from memory. Smaller: {', '.join(wrong)}. They break otherwise than the "
            "concrete of the work: cast a larger one.",
        )


def _fibrous(sides_mm: Mapping[str, float], fibre_mm: float | None) -> Iterator[Caution]:
    if fibre_mm is None:
        return
    wrong = _smaller(sides_mm, fibre_mm, TIMES_FIBRE)
    if wrong:
        yield Caution(
            "fibres-too-long",
            f"For fibres of {fibre_mm:g} mm the least side is to be {TIMES_FIBRE * fibre_mm:.0f} mm ({TIMES_FIBRE:g} "
            f"times their length, from memory). Smaller: {', '.join(wrong)}. Fibres turn along the mould there and "
            "the specimen breaks otherwise than the work: cast a larger one.",
        )


def _small(geometry: str, side_mm: float) -> Iterator[Caution]:
    if side_mm < SMALL_MM:
        yield Caution(
            "small-specimen",
            f"The {geometry} suits aggregate up to {side_mm / TIMES_EN:.0f} mm by EN 12390-1 and "
            f"{side_mm / TIMES_ASTM:.0f} mm by ASTM C192 (from memory). Longer fibres and coarser aggregate are not "
            "spread in it as in the work, and small specimens scatter more: use a larger one there. Say [mix] "
            "aggregate_mm, and every geometry is held against it.",
        )
