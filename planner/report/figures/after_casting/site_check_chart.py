"""The picture of the site checks: z in order with its limits, and the running sum."""

from __future__ import annotations

import math

from planner.issued_curve.rules.rule_limits import CUSUM_LIMIT, LOW_Z
from planner.issued_curve.site_answer import SiteAnswer
from planner.report.figures.after_casting.issued_curve import marks
from planner.report.figures.drawing.plot import Axis, Layer, Line, Note, Plot
from planner.report.text import words

LEAST_Z = 4.0  # shown at any rate, up and down
MOST_NAMED = 12  # pours named below the axis


def checks_plot(answer: SiteAnswer) -> Plot:
    """z of every site check in order, with the low limit, and the running sum with its limit."""
    points = answer.verdict.points
    places = [float(place) for place in range(1, len(points) + 1)]
    lowest = min(-LEAST_Z, *(point.z for point in points))
    highest = max(LEAST_Z, *(max(point.z, point.cusum_low) for point in points)) + 0.5
    end = len(points) + 0.5
    layers: list[Layer] = [
        Line(points=((0.5, 0.0), (end, 0.0)), tone="quiet"),
        Line(points=((0.5, LOW_Z), (end, LOW_Z)), tone="second", is_dashed=True, label="low below this line"),
        Line(
            points=((0.5, CUSUM_LIMIT), (end, CUSUM_LIMIT)),
            tone="third",
            is_dashed=True,
            label="sum withdraws the curve above this line",
        ),
        Line(
            points=tuple(zip(places, (point.cusum_low for point in points), strict=True)),
            tone="third",
            label="running sum of shortfalls",
        ),
    ]
    counted, outside = (
        [(place, point.z) for place, point in zip(places, points, strict=True) if point.is_counted == is_counted]
        for is_counted in (True, False)
    )
    if counted:
        layers.append(marks(counted, shape="dot", tone="strong", label="check"))
    if outside:
        layers.append(marks(outside, shape="ring", tone="strong", label="outside the range, not counted"))
    if answer.verdict.alarm_at is not None:
        at = places[answer.verdict.alarm_at]
        layers.append(Line(points=((at, lowest), (at, highest)), tone="second"))
        layers.append(Note(at=(at, highest), text="withdrawn", anchor="middle", is_strong=True, shift_px=(0.0, 4.0)))
    step = max(1, math.ceil(len(points) / MOST_NAMED))
    ticks = tuple(
        (place, words.clean(point.check.companions.batch, limit=10))
        for at, (place, point) in enumerate(zip(places, points, strict=True))
        if at % step == 0
    )
    return Plot(
        name="site-checks",
        title="Site checks in order",
        description="; ".join(
            f"{words.clean(point.check.companions.batch, limit=24)} {point.z:+.1f}" for point in points
        ),
        caption="Points: z of one check each, below nought weaker than read. Line: the one-sided running sum.",
        across=Axis(title="pours in order of casting", low=0.5, high=end, ticks=ticks),
        up=Axis(
            title="standard deviations of a check",
            low=math.floor(lowest),
            high=math.ceil(highest),
            ticks=tuple((float(v), f"{v:g}") for v in range(math.floor(lowest), math.ceil(highest) + 1, 2)),
        ),
        layers=tuple(layers),
        height_px=340.0,
    )
