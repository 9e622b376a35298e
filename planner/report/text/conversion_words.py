"""A conversion between two geometries in words: which form, why, for which strengths, what more pairs would do."""

from __future__ import annotations

import math

from planner.report.text import words
from planner.report.text.shown_units import are_shown_in_us
from planner.terms.labels import age_label
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.units import psi_from_mpa

ROUND_MPA = (5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)  # of specimens broken, shown on a sheet
USUAL_SPAN_MPA = (10.0, 50.0)  # of them where no pairs say
MOST_ROUND = 6

NO_CONVERSION = (
    "Class pairs such as C30/37 (EN 206, EN 1992) and the length-to-diameter corrections of ASTM C39 are no such "
    "conversion: the first are rounded names of classes, the second serve short cores and cylinders of one diameter."
)


def line_words(conversion: ConversionFigures) -> str:
    """The conversion as it is used."""
    if conversion.form == "none":
        return "equal, nothing is converted"
    if conversion.form == "power law" and conversion.power is not None:
        return power_words(*conversion.power)
    if conversion.ratio_se is None:
        return f"{conversion.ratio:.3f} times, as the plan states"
    return f"{conversion.ratio:.3f} times, standard error {conversion.ratio_se:.3f}"


def power_words(factor: float, exponent: float) -> str:
    """A power law, in the unit of strength that is shown: its factor hangs on it."""
    if are_shown_in_us():
        factor *= psi_from_mpa(1.0) ** (1.0 - exponent)
        return f"{factor:.4g} times the strength in psi to the power {exponent:.4f}"
    return f"{factor:.4g} times the strength in MPa to the power {exponent:.4f}"


def conversion_line(conversion: CurveConversion) -> str:
    """The conversion as a curve carries it: by what the strength broken is multiplied."""
    if conversion.exponent != 1.0:
        return power_words(conversion.factor, conversion.exponent)
    return f"{conversion.factor:.3f} times the strength"


def read_as_words(conversion: CurveConversion) -> str:
    """What an issued curve is fitted to and what it reads."""
    head = f"Cast and broken: {conversion.from_geometry}. Strengths read here are those of the {conversion.to_geometry}"
    if conversion.form == "none":
        return f"{head}; the two agree for all that {conversion.n_pairs} pairs tell, nothing is multiplied."
    rests = (
        "as the plan states"
        if conversion.span_mpa is None
        else f"by {conversion.n_pairs} pairs in {conversion.n_batches} batches"
    )
    return (
        f"{head}: {conversion_line(conversion)} broken, {rests}. Batches left out are converted "
        f"{words.share(conversion.rms)} off, which safe readings hold."
    )


def counted_words(conversion: CurveConversion) -> str:
    """What round strengths of the specimens broken count as, rounded down; "" where nothing is multiplied."""
    if conversion.form == "none":
        return ""
    low, high = conversion.span_mpa or USUAL_SPAN_MPA
    broken = [mpa for mpa in ROUND_MPA if low <= mpa <= high][:MOST_ROUND]
    if not broken:
        return ""
    counted = [math.floor(10.0 * conversion.convert(mpa) + 1e-9) / 10.0 for mpa in broken]
    return (
        f"Companions of the {conversion.from_geometry} are converted before they are compared: "
        f"{words.joined([f'{mpa:.0f}' for mpa in broken])} MPa broken count as "
        f"{words.joined([f'{mpa:.1f}' for mpa in counted])} MPa."
    )


def span_words(conversion: CurveConversion) -> str:
    """The range that the pairs hold as a rule to stop by; "" without pairs."""
    span = conversion.read_span_mpa
    if span is None:
        return ""
    return (
        f"A strength read below {span[0]:.1f} MPa or above {span[1]:.1f} MPa: no pairs of both geometries hold it, no "
        "reading."
    )


def error_words(conversion: ConversionFigures) -> str:
    """How far off a new batch is converted, at every target."""
    return "; ".join(
        f"{words.share(error)} at {age_label(age)} ({mpa:.0f} MPa)" for age, mpa, error in conversion.deciding
    )


def conversion_sentences(conversion: ConversionFigures) -> tuple[str, ...]:
    """What a reader must know before using a conversion."""
    if conversion.ratio_se is None:
        return (
            f"No pairs: the factor of {conversion.ratio:.3f} with {words.share(conversion.between_batch_cv)} from "
            "batch to batch "
            "is the plan's word, and nothing here checks it. Cast both geometries together in three batches or more.",
            NO_CONVERSION,
        )
    sentences = [_form(conversion), range_words(conversion), _ages(conversion), _more(conversion), NO_CONVERSION]
    return tuple(text for text in sentences if text)


def _form(conversion: ConversionFigures) -> str:
    left_out = dict(conversion.rms_left_out)
    tried = ", ".join(f"{form} {words.share(rms)}" for form, rms in conversion.rms_left_out)
    head = f"Batches left out are converted off by (RMS, specimens' scatter included): {tried}."
    if conversion.form == "none":
        return (
            f"{head} The two geometries agree for all that {conversion.n_batches} batches tell; nothing is converted."
        )
    if conversion.form == "power law" and conversion.power is not None:
        a, b = conversion.power
        low, high = conversion.span_mpa
        return (
            f"{head} One factor is not enough: it goes from {a * low ** (b - 1.0):.3f} at {low:.0f} MPa to "
            f"{a * high ** (b - 1.0):.3f} at {high:.0f} MPa, and the power law converts batches left out better."
        )
    if "power law" not in left_out:
        return (
            f"{head} One factor is taken: {conversion.n_batches} batches with pairs are too few to tell a curved "
            "relation."
        )
    return f"{head} One factor is enough: a power law converts batches left out no better than chance allows."


def range_words(conversion: ConversionFigures) -> str:
    """The strengths that the pairs hold, and whether the targets are among them."""
    low, high = conversion.span_mpa
    text = f"It holds from {low:.1f} to {high:.1f} MPa of the {conversion.from_geometry}, where the pairs are"
    beyond = [f"{age_label(age)} ({mpa:.0f} MPa)" for age, mpa, _ in conversion.deciding if not low <= mpa <= high]
    return f"{text}; the pairs do not reach {', '.join(beyond)}." if beyond else f"{text}; the targets lie within."


def _ages(conversion: ConversionFigures) -> str:
    if conversion.drift_per_decade is None:
        return "What is left does not change with age beyond chance."
    return (
        f"What is left changes with age by {words.share(conversion.drift_per_decade, is_signed=True)} for ten "
        "times the age, "
        "beyond chance; the error at a target counts it."
    )


def _more(conversion: ConversionFigures) -> str:
    if not conversion.more_pairs:
        return ""
    now = conversion.more_pairs[0][1]
    listed = ", ".join(f"{words.share(then)} with {more} more" for more, _, then in conversion.more_pairs)
    return (
        f"Further batches with pairs would bring its error at the target from {words.share(now)} to {listed}; "
        f"the {words.share(conversion.between_batch_cv)} by which batches differ stay."
    )
