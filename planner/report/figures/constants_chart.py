"""Error against the maturity constant: Q, and datum temperature."""

from __future__ import annotations

from planner.report.figures.drawing.plot import Area, Axis, Line, Marks, Note, Plot, Tone
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words
from planner.terms.labels import percent
from planner.terms.results.constants import ConstantsOfMethod
from planner.terms.results.recommended.recommendation import Recommendation

TONES: tuple[Tone, ...] = ("second", "third", "quiet", "main", "strong")  # dashed: one a condition
CONSTANT = {"equivalent age": ("Q of the equivalent age, K", "K"), "temperature-time": ("datum temperature, C", "C")}


def constants_plots(advice: Recommendation) -> tuple[Plot, ...]:
    """One picture a method; none where the records do not tell constants apart."""
    return () if advice.constants is None else tuple(_plot(advice, method) for method in advice.constants.methods)


def _plot(advice: Recommendation, method: ConstantsOfMethod) -> Plot:
    study = advice.constants
    assert study is not None
    title, unit = CONSTANT[method.method]
    later = [(point.constant, point.later_rms) for point in method.points if point.later_rms is not None]
    own = [(point.constant, point.own_rms) for point in method.points]
    parts = [rms for point in method.points for rms in point.by_condition if rms is not None]
    errors = [*parts, *(rms for _, rms in (*later, *own))]
    up = linear_axis("RMS error", max(errors) * 1.05, is_percent=True)
    low, high = method.about_as_good
    layers: list[Area | Line | Marks | Note] = [
        Area(
            points=((low, up.low), (low, up.high), (high, up.high), (high, up.low)),
            label=f"about as good: within {percent(study.immaterial, digits=2)} of the least",
        )
    ]
    if later:
        layers.append(Line(points=tuple(later), tone="strong", label="later pour"))
    layers.append(Line(points=tuple(own), label="own batch"))
    for place, condition in enumerate(study.conditions if len(study.conditions) > 1 else ()):
        line = [(point.constant, found) for point in method.points if (found := point.by_condition[place]) is not None]
        if line:
            layers.append(
                Line(
                    points=tuple(line),
                    tone=TONES[place % len(TONES)],
                    is_dashed=True,
                    label=f"own batch, {words.clean(condition, limit=40)}",
                )
            )
    layers += _mortar(advice, method, up)
    if study.chosen.method == method.method:
        judged = later if study.judged_on == "later pour" else own
        at = next(point for point in judged if point[0] == study.chosen.constant)
        layers.append(
            Marks(points=(at,), radius_px=(7.0,), shape="diamond", tone="strong", hints=("recommended",),
                  label="recommended")
        )  # fmt: skip
    return Plot(
        name="constants-q" if method.method == "equivalent age" else "constants-datum",
        title=f"Error against the {title.split(',')[0]}",
        description=(
            f"RMS error of the recommended schedule on a {study.judged_on}, by {title}: least "
            f"{words.share(min(rms for _, rms in (later if study.judged_on == 'later pour' else own)))}; constants "
            f"from {low:g} to {high:g} {unit} are about as good."
        ),
        caption=f"The recommended schedule and curve on these records under each constant; {low:g} to {high:g} {unit} "
        "are about as good.",
        across=_axis(title, method),
        up=up,
        layers=tuple(layers),
    )


def _mortar(advice: Recommendation, method: ConstantsOfMethod, up: Axis) -> list[Line]:
    """What cubes of mortar say of this constant, where it lies in the picture."""
    if advice.mortar is None:
        return []
    value = (advice.mortar.q_k if method.method == "equivalent age" else advice.mortar.datum_c).value
    if not method.points[0].constant <= value <= method.points[-1].constant:
        return []
    unit = CONSTANT[method.method][1]
    return [
        Line(
            points=((value, up.low), (value, up.high)),
            tone="quiet",
            is_dashed=True,
            label=f"mortar: {value:.4g} {unit}",
        )
    ]


def _axis(title: str, method: ConstantsOfMethod) -> Axis:
    first, last = method.points[0].constant, method.points[-1].constant
    step = 1000.0 if method.method == "equivalent age" else 5.0
    ticks, at = [], -(-first // step) * step
    while at <= last:
        ticks.append((at, f"{at:g}"))
        at += step
    return Axis(title=title, low=first, high=last, ticks=tuple(ticks))
