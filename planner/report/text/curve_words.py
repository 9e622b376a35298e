"""An issued curve in words: its formula, how maturity is reckoned, what the verdict asks for. Once for every output."""

from __future__ import annotations

import math

from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import BatchCurve, IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.calibration.readings import FEW_DIGITS, table_of
from planner.report.text import words
from planner.report.text.conversion_words import counted_words, read_as_words, span_words
from planner.report.text.shown_units import are_shown_in_us
from planner.terms.labels import age_label, percent
from planner.terms.maturity import MaturitySetting
from planner.units import psi_from_mpa


def maturity_words(maturity_h: float, setting: MaturitySetting) -> str:
    """A maturity in the unit of the curve, three figures."""
    unit, per_hour = maturity_unit(setting)
    return f"{maturity_number(maturity_h * per_hour)} {unit}"


def maturity_number(value: float) -> str:
    """A maturity as the table writes it: one decimal below 100, none above."""
    return f"{value:.1f}" if value < FEW_DIGITS else f"{value:.0f}"


def maturity_name(setting: MaturitySetting) -> str:
    """What the abscissa is called."""
    return {
        "equivalent age": f"equivalent age at {setting.reference_c:g} C",
        "temperature-time": "temperature-time factor",
        "age": "age",
    }[setting.method]


def reckoning_words(setting: MaturitySetting, *, age_zero: str = "") -> tuple[str, ...]:
    """How maturity is reckoned, so that any logger can do it; `age_zero` is "" where the records do not say it."""
    zero = (
        f"Time begins at age zero: {words.clean(age_zero, limit=30)}."
        if age_zero
        else "Time begins at the same moment as the ages of the calibration's own breaks: ask the laboratory which."
    )
    if setting.method == "age":
        return ("Maturity is the age in hours: no temperature is taken into account.", zero)
    interval = (
        "T is the mean temperature inside the concrete over an interval of dt hours: 0.5 h or shorter for the first "
        f"48 h, 1 h or shorter afterwards. {zero}"
    )
    is_us = are_shown_in_us()
    if setting.method == "temperature-time":
        per_h = (setting.reference_c - setting.constant) * (1.8 if is_us else 1.0)
        return (
            f"M = sum of (T - ({setting.constant:g})) dt in C h; datum temperature {setting.constant:g} C. An interval "
            "below the datum adds nothing.",
            interval,
            f"In the formulas t = M / {per_h:g} (hours at {setting.reference_c:g} C).",
        )
    return (
        f"t = sum of exp(-{setting.constant:g} (1 / (T + 273.15) - 1 / {setting.reference_c + 273.15:.2f})) dt in h; "
        f"Q {setting.constant:g} K, reference {setting.reference_c:g} C.",
        interval + (" In the formula T is in degrees Celsius: the F reading less 32, divided by 1.8." if is_us else ""),
    )


def formula_words(curve: IssuedCurve) -> tuple[str, ...]:
    """The curve of every trial batch with its constants; t in hours at the reference temperature.

    The constants give MPa; where another unit is shown, the line says by what its S is multiplied.
    """
    scale = "" if curve.scale == 1.0 else f", times {curve.scale:.4g}"
    if are_shown_in_us():
        scale += f", times {psi_from_mpa(1.0):.3f} psi"
    lines = [f"{words.clean(item.batch, limit=24)}: S = {_formula(curve, item)}{scale}" for item in curve.batches]
    if len(lines) > 1:
        lines.append("The strength read is the mean of the curves at the same maturity.")
    return tuple(lines)


def _formula(curve: IssuedCurve, item: BatchCurve) -> str:
    numbers = [f"{value:.5g}" for value in item.parameters]
    if curve.curve == "hyperbolic":
        ultimate, half, offset = numbers
        since = f"(t - {offset})" if item.parameters[2] >= 0 else f"(t + {offset[1:]})"
        return f"{ultimate} {since} / ({since} + {half})"
    if curve.curve == "population prior":
        n_own = len(numbers) - len(item.knots_h)
        places = ", ".join(f"{mean} at {knot:.4g} h" for mean, knot in zip(numbers[n_own:], item.knots_h, strict=True))
        return (
            f"exp(m {item.parameters[0]:+.5g} {item.parameters[1]:+.5g} g), m the monotone cubic (Fritsch and "
            f"Carlson) of ln S in ln t through {places} (means of the earlier batches), g its slope"
        )
    if curve.curve in ("exponential", "shape prior"):
        ultimate, time, shape = numbers
        return f"{ultimate} exp(-({time} / t)^{shape})"
    if curve.curve == "logarithmic":
        return f"{numbers[0]} + {numbers[1]} ln t"
    if curve.curve == "records":
        places = ", ".join(f"{mean} at {knot:.4g} h" for mean, knot in zip(numbers, item.knots_h, strict=True))
        return f"monotone cubic (Fritsch and Carlson) of ln S in ln t through {places}"
    across = "ln t" if curve.curve == "piecewise linear in log age" else "t"
    places = ", ".join(f"{mean} at {knot:.4g} h" for mean, knot in zip(numbers, item.knots_h, strict=True))
    return f"straight in {across} through {places}"


LEARNT_FIT = "stands between these means and what the earlier batches say"


def parameter_words(item: BatchCurve, names: tuple[str, ...]) -> str:
    """The first constants with their standard errors, as many as there are names."""
    return ", ".join(
        f"{name} {value:.5g} ± {error:.2g}"
        for name, value, error in zip(names, item.parameters, item.parameter_se, strict=False)
    )


def assurance_words(curve: IssuedCurve) -> str:
    """What the safe reading means, for those who stand beside the concrete."""
    promise = curve.promise
    if not curve.is_calibrated and curve.basis == "trial":
        return "No safe reading is given: the calibration is not accepted. No pour may be released by this curve."
    if promise.safe_factor is None or not curve.is_calibrated:
        return (
            "No safe reading is given: too little is known of how pours of this concrete differ. Break companions of "
            "every pour; the engineer releases."
        )
    weaker = round(1.0 / (1.0 - promise.assurance))
    return (
        f"Safe reading: the strength to compare with the one required, the strength read divided by "
        f"{words.factor(promise.safe_factor)}. Estimated from {promise.n_batches} earlier batches: about 1 pour in "
        f"{weaker} may be weaker than its safe reading; the engineer releases."
    )


def valid_words(curve: IssuedCurve) -> tuple[tuple[str, str], ...]:
    """What the curve holds for, term by term."""
    rows = table_of(curve)
    youngest, oldest = (maturity_words(row.maturity_h, curve.maturity) for row in (rows[0], rows[-1]))
    low, high = rows[0].strength_mpa, rows[-1].strength_mpa
    temperature = "not limited by the calibration: ask the engineer"
    if curve.temperature_c is not None:
        temperature = f"{temperature_words(curve)} on the mean, inside the concrete"
    return (
        ("mix", words.clean(curve.mix, limit=44) or "not named"),
        (
            "specimens",
            f"{words.clean(curve.geometry, limit=44) or 'not named'}{_read_as(curve)}, "
            f"{words.clean(curve.property, limit=24)}",
        ),
        ("maturity", f"{youngest} to {oldest}"),
        ("strength", f"{low:.1f} to {high:.1f} MPa"),
        ("temperature", temperature),
    )


def _read_as(curve: IssuedCurve) -> str:
    conversion = curve.conversion
    return "" if conversion is None else f", read as {words.clean(conversion.to_geometry, limit=44)}"


def conversion_facts(curve: IssuedCurve) -> tuple[tuple[str, str], ...]:
    """What is broken and what is read, for an account; nothing where they are the same."""
    conversion = curve.conversion
    if conversion is None:
        return ()
    said = (
        ("strengths", read_as_words(conversion)),
        ("companions", counted_words(conversion)),
        ("stop", span_words(conversion)),
    )
    return tuple((term, words.clean(text)) for term, text in said if text)


def temperature_words(curve: IssuedCurve) -> str:
    """Coolest and warmest concrete of the calibration in full degrees, rounded inward; "" where it is not limited."""
    if curve.temperature_c is None:
        return ""
    coolest, warmest = math.ceil(curve.temperature_c[0]), math.floor(curve.temperature_c[1])
    if coolest > warmest:
        return f"{curve.temperature_c[0]:.1f} to {curve.temperature_c[1]:.1f} C"
    return f"{coolest} to {warmest} C"


def rests_on_words(issue: Issue) -> str:
    """The trial batches, with their breaks where they are known."""
    parts = [
        f"{words.clean(fit.means.batch, limit=24)} ({int(fit.means.n_specimens.sum())} specimens at "
        f"{words.ages_words(tuple(fit.means.age_h.tolist()))})"
        for fit in issue.fits
    ]
    if issue.curve.basis == "records":
        return f"the {issue.curve.batches[0].batch} cast earlier"
    return "; ".join(parts) or ", ".join(words.clean(item.batch, limit=24) for item in issue.curve.batches)


def lack_of_fit_words(chance: float | None) -> str:
    """How well the curve goes through the means."""
    if chance is None:
        return "goes through every mean"
    text = "less than 0.1 %" if chance < 0.001 else percent(chance, digits=1 if chance < 0.1 else 0)
    return f"departs as far from the means as chance would in {text} of cases"


def companions_label(age_h: float, placement: str) -> str:
    """``6 h, cool night``."""
    return f"{age_label(age_h)}, {words.clean(placement, limit=24)}" if placement else age_label(age_h)
