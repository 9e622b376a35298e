"""Strength growth of the prior batches, with the chosen ages and the targets."""

from __future__ import annotations

from planner.report.figures.drawing.plot import Line, Marks, Note, Plot, Point
from planner.report.figures.drawing.thinning import spread_over
from planner.report.figures.drawing.ticks import age_axis, linear_axis
from planner.report.figures.waiting_chart import NAMES_PX, beside_lines
from planner.report.text import words
from planner.terms.labels import age_label
from planner.terms.results.recommended.plotted_points import GrowthPoint
from planner.terms.results.recommended.recommendation import Recommendation

MOST_CURVES = 120  # batches drawn: more are one grey patch, and a page that nobody can open
EDGE_PX = 24.0  # room for the name of the last age
ABOVE_AXIS = 0.03  # of the height, so that marks clear the ages below


def growth_plot(advice: Recommendation) -> Plot | None:
    """None where there are no records, only published growth."""
    if not advice.growth:
        return None
    chosen = advice.recommended.schedule.ages_h
    read_at, waits_mpa = _targets(advice)
    across = age_axis([point.age_h for point in advice.growth] + list(chosen) + read_at)
    up = linear_axis("strength, MPa", max(point.strength_mpa for point in advice.growth) * 1.05)
    layers: list[Line | Marks | Note] = [
        Marks(
            points=tuple((age, up.low + ABOVE_AXIS * (up.high - up.low)) for age in chosen),
            radius_px=(8.0,) * len(chosen),
            shape="triangle",
            hints=tuple(f"break at {age_label(age)}" for age in chosen),
            label="recommended break ages",
        )
    ]
    for age in read_at:
        layers.append(Line(points=((age, up.low), (age, up.high)), tone="second", is_dashed=True))
        layers.append(Note(at=(age, up.high), text="target", anchor="middle", shift_px=(0.0, 4.0)))
    for strength_mpa in waits_mpa:
        level = ((across.low, strength_mpa), (across.high, strength_mpa))
        layers.append(Line(points=level, tone="second", is_dashed=True))
    layers += beside_lines(waits_mpa, across=across, up=up)
    batches = list(dict.fromkeys(point.batch for point in advice.growth))
    drawn = set(spread_over(batches, MOST_CURVES))
    layers += _curves([point for point in advice.growth if point.batch in drawn])
    some = f" {len(drawn)} of the {len(batches):,} batches are drawn." if len(drawn) < len(batches) else ""
    strongest = max(point.strength_mpa for point in advice.growth)
    return Plot(
        name="growth",
        title="Strength growth of the prior batches",
        description=(
            f"{len(batches)} batches, up to {strongest:.0f} MPa. "
            f"Recommended break ages {words.ages_words(chosen)}; "
            f"dashed: targets {words.joined([advice.target_label(age) for age in advice.target_ages_h])}.{some}"
        ),
        caption=f"Recommended break ages {words.ages_words(chosen)}; dashed: targets.{some}",
        across=across,
        up=up,
        layers=tuple(layers),
        height_px=360.0,
        right_px=NAMES_PX if waits_mpa else EDGE_PX,
    )


def _targets(advice: Recommendation) -> tuple[list[float], list[float]]:
    """Ages that are read at [h], and strengths that are waited for [MPa]."""
    waits = advice.target_waits_mpa or (None,) * len(advice.target_ages_h)
    read_at = [age for age, strength_mpa in zip(advice.target_ages_h, waits, strict=True) if strength_mpa is None]
    return read_at, [strength_mpa for strength_mpa in waits if strength_mpa is not None]


def _curves(growth: list[GrowthPoint]) -> list[Line | Marks | Note]:
    layers: list[Line | Marks | Note] = []
    is_standard_named = is_other_named = False
    for batch in dict.fromkeys(point.batch for point in growth):
        own = [point for point in growth if point.batch == batch]
        standard = sorted((point for point in own if point.curing == "standard"), key=lambda point: point.age_h)
        others = [point for point in own if point.curing != "standard"]
        if standard:
            label = "" if is_standard_named else "standard-cured, a line for each batch"
            is_standard_named = True
            layers.append(Line(points=_places(standard), tone="quiet", label=label))
            layers.append(
                Marks(
                    points=_places(standard),
                    radius_px=(2.5,) * len(standard),
                    tone="quiet",
                    hints=_hints(standard),
                )
            )
        if others:
            label = "" if is_other_named else "cured beside the work"
            is_other_named = True
            layers.append(
                Marks(
                    points=_places(others),
                    radius_px=(4.5,) * len(others),
                    shape="ring",
                    tone="third",
                    hints=_hints(others),
                    label=label,
                )
            )
    return layers


def _places(points: list[GrowthPoint]) -> tuple[Point, ...]:
    return tuple((point.age_h, point.strength_mpa) for point in points)


def _hints(points: list[GrowthPoint]) -> tuple[str, ...]:
    return tuple(
        f"{words.clean(point.batch, limit=40)}, {point.curing}, {point.strength_mpa:.1f} MPa, "
        f"{point.n_specimens} specimens"
        for point in points
    )
