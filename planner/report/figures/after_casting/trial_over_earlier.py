"""The picture of a trial batch that is being broken, over the earlier batches."""

from __future__ import annotations

from planner.report.figures.after_casting.issued_curve import marks
from planner.report.figures.drawing.plot import Layer, Line, Marks, Plot
from planner.report.figures.drawing.ticks import age_axis, linear_axis
from planner.report.text import words
from planner.terms.labels import age_label
from planner.terms.results.recommended.recommendation import Recommendation

ABOVE_AXIS = 0.03  # of the height, so that marks clear the ages below


def trial_plot(advice: Recommendation) -> Plot | None:
    """None where no trial batch is given. The earlier batch most like it stands out."""
    trial = advice.trial
    if trial is None:
        return None
    like = max(trial.likeness, key=lambda pair: pair[1])[0]
    standard = [point for point in advice.growth if point.curing == "standard"]
    own = tuple((mean.age_h, mean.mean_mpa) for mean in trial.broken)
    ahead = () if trial.remaining is None else trial.remaining.ages_h
    up = linear_axis("strength, MPa", 1.05 * max([point.strength_mpa for point in standard] + [y for _, y in own]))
    layers: list[Layer] = []
    batches = dict.fromkeys(point.batch for point in standard)
    for place, batch in enumerate(sorted(batches, key=lambda name: name == like)):
        points = sorted((point.age_h, point.strength_mpa) for point in standard if point.batch == batch)
        label = "earlier batches" if place == 0 else ""
        if batch == like:
            label = f"{words.clean(batch, limit=24)}, most like it"
        layers.append(Line(points=tuple(points), tone="third" if batch == like else "quiet", label=label))
    name = words.clean(trial.batch, limit=24)
    layers.append(Line(points=own, tone="strong"))
    layers.append(marks(own, shape="dot", tone="strong", label=name))
    if ahead:
        layers.append(
            Marks(
                points=tuple((age, up.low + ABOVE_AXIS * (up.high - up.low)) for age in ahead),
                radius_px=(8.0,) * len(ahead),
                shape="triangle",
                tone="main",
                hints=tuple(f"break at {age_label(age)}" for age in ahead),
                label="still to break",
            )
        )
    return Plot(
        name="trial",
        title=f"Trial batch {name} over the earlier batches",
        description="; ".join(f"{age_label(age)}: {strength:.1f} MPa" for age, strength in own),
        caption="Standard-cured means at their ages; their maturities may differ a little.",
        across=age_axis([point.age_h for point in standard] + [age for age, _ in own] + list(ahead)),
        up=up,
        layers=tuple(layers),
        height_px=340.0,
    )
