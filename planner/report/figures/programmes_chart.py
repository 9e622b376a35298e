"""Programmes: error against money (or specimens), a line for each number of trial batches."""

from __future__ import annotations

from planner.report.figures.drawing.plot import Area, Line, Marks, Note, Plot, Tone
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words
from planner.terms.labels import schedule_label
from planner.terms.results.programme_figures import Programme, Spending
from planner.terms.results.recommended.recommendation import Recommendation

TONES: tuple[Tone, ...] = ("main", "second", "third", "quiet", "main")
FEWEST_POINTS = 2


def programmes_plot(advice: Recommendation) -> Plot | None:
    """None where programmes are not judged, or only one is."""
    money = advice.spending
    if money is None or len(money.programmes) < FEWEST_POINTS:
        return None
    has_cost = all(item.cost is not None for item in money.programmes)
    unit = words.clean(advice.currency, limit=8) if has_cost else "specimens in all"
    points = {id(item): (_spent(item, has_cost=has_cost), judged_rms(money, item)) for item in money.programmes}
    amounts = [amount for amount, _ in points.values()]
    heights = [rms for _, rms in points.values()]
    across = linear_axis(f"whole calibration, {unit}", 1.02 * max(amounts))
    up = linear_axis(f"RMS error, {money.judged_on}", 1.05 * max(*heights, advice.tolerance), is_percent=True)
    layers: list[Area | Line | Marks | Note] = []
    if words.is_error_promised(advice):
        layers.append(
            Line(
                points=((across.low, advice.tolerance), (across.high, advice.tolerance)), tone="second", is_dashed=True
            )
        )
        layers.append(
            Note(
                at=(across.high, advice.tolerance),
                text=f"tolerance {words.share(advice.tolerance)}",
                anchor="end",
                shift_px=(-4.0, 5.0),
            )
        )
    told_of = []
    for place, number in enumerate(sorted({item.n_trial_batches for item in money.programmes})):
        mine = sorted(
            (item for item in money.programmes if item.n_trial_batches == number), key=lambda item: points[id(item)]
        )
        line = tuple(points[id(item)] for item in mine)
        name = "1 trial batch" if number == 1 else f"{number} trial batches"
        layers.append(Line(points=line, tone=TONES[place % len(TONES)], label=name))
        layers.append(
            Marks(
                points=line,
                radius_px=(3.5,) * len(line),
                tone=TONES[place % len(TONES)],
                hints=tuple(_hint(item, unit, points[id(item)]) for item in mine),
            )
        )
        told_of.append(f"{name}: " + "; ".join(f"{amount:.0f} {unit} {words.share(rms)}" for amount, rms in line))
    at = (_spent(money.recommended, has_cost=has_cost), judged_rms(money, money.recommended))
    layers.append(
        Marks(
            points=(at,),
            radius_px=(7.0,),
            shape="diamond",
            tone="strong",
            hints=(f"recommended: {_hint(money.recommended, unit, at)}",),
            label="recommended",
        )
    )
    return Plot(
        name="programmes",
        title=f"Error against {'money' if has_cost else 'specimens'}, by trial batches",
        description=f"RMS error on the {money.judged_on} by {unit}. {'. '.join(told_of)}. Recommended: {at[0]:.0f} "
        f"{unit} {words.share(at[1])}.",
        caption=f"Fixed programmes, judged on the {money.judged_on}, not corrected for choosing. A line for each "
        "number of trial batches, whose curves are averaged; some lie beyond the plan's limits.",
        across=across,
        up=up,
        layers=tuple(layers),
    )


def judged_rms(money: Spending, item: Programme) -> float:
    """The error where programmes are judged."""
    return item.own_batch_rms if money.judged_on == "own batch" else item.headline_rms


def _spent(item: Programme, *, has_cost: bool) -> float:
    return float(item.cost) if has_cost and item.cost is not None else float(item.n_specimens)


def _hint(item: Programme, unit: str, at: tuple[float, float]) -> str:
    limits = "" if item.is_within_limits else ", beyond the plan's limits"
    return (
        f"{item.n_trial_batches} x {schedule_label(item.schedule)}: {words.share(at[1])} for {at[0]:.0f} {unit}{limits}"
    )
