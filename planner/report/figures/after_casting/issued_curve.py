"""Pictures of an issued curve: strength over maturity, its companions, growth beside the earlier batches."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from planner.issued_curve.calibration.batch_fit import BatchFit
from planner.issued_curve.calibration.expectation import Expectation
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.rules.acceptance import Acceptance
from planner.report.figures.drawing.plot import Area, Axis, Layer, Line, Marks, Plot, Point, Shape, Tone
from planner.report.figures.drawing.ticks import age_axis, linear_axis
from planner.report.text import words
from planner.report.text.curve_words import companions_label, maturity_name, maturity_number
from planner.terms.labels import percent

HEIGHT_PX = 330.0
N_DRAWN = 160  # points of a curve


def curve_plot(issue: Issue, *, height_px: float = HEIGHT_PX) -> Plot:
    """The picture of the sheet: strength read, safe reading, breaks and companions over maturity."""
    curve = issue.curve
    _, per_hour = maturity_unit(curve.maturity)
    across_h = np.geomspace(*curve.span_h, N_DRAWN)
    read = curve.strength(across_h)
    layers: list[Layer] = [
        Line(points=_pairs(across_h * per_hour, read), tone="strong", label="strength read"),
    ]
    factor = curve.promise.safe_factor if curve.is_calibrated else None
    if factor is not None:
        layers.append(
            Line(points=_pairs(across_h * per_hour, read / factor), tone="main", is_dashed=True, label="safe reading")
        )
    broken = [
        (float(maturity) * per_hour, float(mean))
        for fit in issue.fits
        for maturity, mean in zip(fit.means.maturity_h, fit.means.mean_mpa, strict=True)
    ]
    if broken:
        layers.append(marks(broken, shape="dot", tone="quiet", label="breaks of the trial batch"))
    beside = [(group.maturity_h * per_hour, group.mean_mpa) for group in issue.groups]
    if beside:
        layers.append(marks(beside, shape="ring", tone="second", label="companions on site"))
    highest = max([float(read[-1]), *(strength for _, strength in broken + beside)])
    lowest = min([curve.span_h[0] * per_hour, *(maturity for maturity, _ in beside)])
    return Plot(
        name="curve",
        title="Strength over maturity",
        description=(f"Strength read rises from {read[0]:.1f} MPa to {read[-1]:.1f} MPa; the table has the figures."),
        across=maturity_axis(curve, lowest, curve.span_h[1] * per_hour),
        up=linear_axis("strength, MPa", highest * 1.04),
        layers=tuple(layers),
        height_px=height_px,
    )


def bias_plots(issue: Issue) -> tuple[Plot, ...]:
    """Companions less reading over maturity, and over temperature where it is known."""
    accepted = issue.acceptance
    if accepted is None or not accepted.checks:
        return ()
    _, per_hour = maturity_unit(issue.curve.maturity)
    maturities = [check.companions.maturity_h * per_hour for check in accepted.checks]
    plots = [
        _bias_plot(
            "bias-maturity",
            "Companions against the reading, over maturity",
            maturities,
            maturity_axis(issue.curve, min(maturities), max(maturities)),
            accepted,
        )
    ]
    temperatures = [group.temperature_c for group in issue.groups]
    known = [temperature for temperature in temperatures if temperature is not None]
    if known and len(known) == len(accepted.checks):
        low, high = math.floor(min(known)) - 2.0, math.ceil(max(known)) + 2.0
        plots.append(
            _bias_plot(
                "bias-temperature",
                "Companions against the reading, over mean concrete temperature",
                known,
                linear_axis("mean temperature, C", high, low=low),
                accepted,
            )
        )
    return tuple(plots)


def _bias_plot(name: str, title: str, across: Sequence[float], axis: Axis, accepted: Acceptance) -> Plot:
    checks = accepted.checks
    reach = max(
        1.1 * accepted.tolerance,
        *(1.1 * max(abs(check.companions.difference), accepted.z_limit * check.sd) for check in checks),
    )
    layers: list[Layer] = [
        Line(points=((axis.low, 0.0), (axis.high, 0.0)), tone="strong"),
        *(
            Line(
                points=((axis.low, side), (axis.high, side)),
                tone="quiet",
                is_dashed=True,
                label="tolerance" if side > 0 else "",
            )
            for side in (accepted.tolerance, -accepted.tolerance)
        ),
        *(
            Line(
                points=((place, -accepted.z_limit * check.sd), (place, accepted.z_limit * check.sd)),
                tone="third",
                label="limits of the acceptance" if not at else "",
            )
            for at, (place, check) in enumerate(zip(across, checks, strict=True))
        ),
        Marks(
            points=tuple((place, check.companions.difference) for place, check in zip(across, checks, strict=True)),
            radius_px=(5.0,) * len(checks),
            tone="second",
            hints=tuple(
                f"{companions_label(check.companions.age_h, check.companions.placement)}: "
                f"{percent(check.companions.difference, is_signed=True)}"
                for check in checks
            ),
            label="broken less read",
        ),
    ]
    return Plot(
        name=name,
        title=title,
        description="; ".join(
            f"{companions_label(check.companions.age_h, check.companions.placement)} "
            f"{percent(check.companions.difference, is_signed=True)}"
            for check in checks
        ),
        caption="Below nought the concrete was weaker than read. A slope speaks against the constants or the curve.",
        across=axis,
        up=_percent_axis("broken less read", reach),
        layers=tuple(layers),
        height_px=280.0,
    )


def expectation_plot(fit: BatchFit, expectation: Expectation) -> Plot | None:
    """The trial batch over the band in which 95 of 100 new batches lie; None without earlier batches."""
    ages = expectation.ages
    if len(ages) < 2:
        return None
    band = [(item.age_h, item.high_mpa) for item in ages] + [(item.age_h, item.low_mpa) for item in reversed(ages)]
    own = [(item.age_h, item.trial_mpa) for item in ages]
    name = words.clean(fit.means.batch, limit=24)
    return Plot(
        name="expectation",
        title=f"Batch {name} beside the earlier batches",
        description="; ".join(
            f"{item.age_h:g} h: {item.trial_mpa:.1f} MPa, expected {item.low_mpa:.1f} to {item.high_mpa:.1f}"
            for item in ages
        ),
        caption="Band: 95 of 100 batches like the earlier ones lie in it at one age.",
        across=age_axis([item.age_h for item in ages]),
        up=linear_axis("strength, MPa", max(item.high_mpa for item in ages) * 1.05),
        layers=(
            Area(points=tuple(band), tone="quiet", label="earlier batches"),
            Line(points=tuple((item.age_h, item.middle_mpa) for item in ages), tone="quiet", label="their mean"),
            Line(points=tuple(own), tone="strong"),
            marks(own, shape="dot", tone="strong", label=name),
        ),
        height_px=320.0,
    )


def maturity_axis(curve: IssuedCurve, low: float, high: float) -> Axis:
    """A logarithmic axis of maturity in the unit of the curve, with a little room at both ends."""
    unit, _ = maturity_unit(curve.maturity)
    low, high = low / 1.1, high * 1.1
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    values = [step * 10.0**decade for decade in decades for step in (1.0, 2.0, 3.0, 5.0, 7.0)]
    inside = [value for value in values if low <= value <= high]
    named = [value for value in inside if round(value / 10.0 ** math.floor(math.log10(value))) in (1, 2, 5)]
    ticks = tuple((value, maturity_number(value).removesuffix(".0") if value in named else "") for value in inside)
    return Axis(title=f"{maturity_name(curve.maturity)}, {unit}", low=low, high=high, ticks=ticks, is_log=True)


def _percent_axis(title: str, reach: float) -> Axis:
    step = next(step for step in (0.02, 0.05, 0.10, 0.20, 0.50, 1.0, 5.0) if reach / step <= 4 or step == 5.0)
    n_steps = math.ceil(reach / step)
    values = [step * place for place in range(-n_steps, n_steps + 1)]
    return Axis(
        title=title,
        low=values[0],
        high=values[-1],
        ticks=tuple((value, f"{100 * value:+.0f} %" if round(value, 9) else "0 %") for value in values),
    )


def marks(points: Sequence[Point], *, shape: Shape, tone: Tone, label: str) -> Marks:
    """Points of one size."""
    return Marks(
        points=tuple(points),
        radius_px=(4.5,) * len(points),
        shape=shape,
        tone=tone,
        label=label,
    )


def _pairs(across: np.ndarray, up: np.ndarray) -> tuple[Point, ...]:
    return tuple(zip(across.tolist(), up.tolist(), strict=True))
