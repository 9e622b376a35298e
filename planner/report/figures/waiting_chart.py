"""Strength against hours at constant concrete temperatures, with the strengths that the site waits for."""

from __future__ import annotations

from collections.abc import Iterable

from planner.report.figures.drawing.plot import Area, Axis, Line, Note, Plot, Tone
from planner.report.figures.drawing.ticks import linear_axis, log_axis
from planner.report.text import words
from planner.terms.labels import strength_label
from planner.terms.results.recommended.recommendation import Recommendation

NAMES_PX = 84.0  # room for "10,000 psi" at the end of a line
LEAST_HEIGHT_PX, NAME_HEIGHT_PX = 220.0, 15.0  # of what is drawn between the axes, and of a name
TONES: tuple[Tone, ...] = ("third", "main", "second")  # coolest first, the warmest in red


def waiting_plot(advice: Recommendation) -> Plot | None:
    """None where the plan waits for no strength."""
    answer = advice.waiting
    if answer is None:
        return None
    factor = answer.safe_factor or 1.0
    hours = [hour for line in answer.growth for hour, _ in line.points]
    strongest = max(strength for line in answer.growth for _, strength in line.points)
    across, up = log_axis("hours since age zero (logarithmic)", hours), linear_axis("strength, MPa", strongest * factor)
    layers: list[Area | Line | Note] = []
    if answer.safe_factor is not None:
        middle = answer.growth[len(answer.growth) // 2].points
        band = [(hour, strength * factor) for hour, strength in middle]
        band += [(hour, strength / factor) for hour, strength in reversed(middle)]
        layers.append(
            Area(
                points=tuple(band),
                label=f"{words.factor(factor)} times weaker or stronger, at "
                f"{answer.growth[len(answer.growth) // 2].temperature_c:g} C",
            )
        )
    for place, line in enumerate(answer.growth):
        layers.append(
            Line(points=line.points, tone=TONES[place % len(TONES)], label=f"concrete at {line.temperature_c:g} C")
        )
    for wait in answer.waits:
        dashed = ((across.low, wait.strength_mpa), (across.high, wait.strength_mpa))
        layers.append(Line(points=dashed, tone="strong", is_dashed=True))
    layers += beside_lines([wait.strength_mpa for wait in answer.waits], across=across, up=up)
    listed = "; ".join(
        f"{strength_label(wait.strength_mpa)} at {at.temperature_c:g} C after {at.likely_h:.1f} h"
        for wait in answer.waits
        for at in wait.hours
        if at.likely_h is not None
    )
    return Plot(
        name="waiting",
        title="When the strength will be there",
        description=f"Mean curve of {answer.n_curves} earlier batches by hours at constant temperature: {listed}.",
        caption="To plan who comes in when; it is no reading of a pour.",
        across=across,
        up=up,
        layers=tuple(layers),
        right_px=NAMES_PX,
    )


def beside_lines(strengths_mpa: Iterable[float], *, across: Axis, up: Axis) -> list[Note]:
    """Names of level lines right of the picture, where no curve runs; one that would meet the one below is raised."""
    per_px, free = (up.high - up.low) / LEAST_HEIGHT_PX, up.low
    notes = []
    for strength_mpa in sorted(strengths_mpa):
        raised = max(0.0, free - strength_mpa)
        free = strength_mpa + raised + NAME_HEIGHT_PX * per_px
        notes.append(
            Note(
                at=(across.high, strength_mpa),
                text=strength_label(strength_mpa),
                shift_px=(6.0, raised / per_px - 4.0),
                is_strong=True,
            )
        )
    return notes
