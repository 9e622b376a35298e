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


def line_words(told: ConversionFigures) -> str:
    """The conversion as it is used."""
    if told.form == "none":
        return "equal, nothing is converted"
    if told.form == "power law" and told.power is not None:
        return power_words(*told.power)
    if told.ratio_se is None:
        return f"{told.ratio:.3f} times, as the plan states"
    return f"{told.ratio:.3f} times, standard error {told.ratio_se:.3f}"


def power_words(factor: float, exponent: float) -> str:
    """A power law, in the unit of strength that is shown: its factor hangs on it."""
    if are_shown_in_us():
        factor *= psi_from_mpa(1.0) ** (1.0 - exponent)
        return f"{factor:.4g} times the strength in psi to the power {exponent:.4f}"
    return f"{factor:.4g} times the strength in MPa to the power {exponent:.4f}"


def conversion_line(told: CurveConversion) -> str:
    """The conversion as a curve carries it: by what the strength broken is multiplied."""
    if told.exponent != 1.0:
        return power_words(told.factor, told.exponent)
    return f"{told.factor:.3f} times the strength"


def read_as_words(told: CurveConversion) -> str:
    """What an issued curve is fitted to and what it reads."""
    head = f"Cast and broken: {told.from_geometry}. Strengths read here are those of the {told.to_geometry}"
    if told.form == "none":
        return f"{head}; the two agree for all that {told.n_pairs} pairs tell, nothing is multiplied."
    rests = "as the plan states" if told.span_mpa is None else f"by {told.n_pairs} pairs in {told.n_batches} batches"
    return (
        f"{head}: {conversion_line(told)} broken, {rests}. Batches left out are converted {words.share(told.rms)} "
        "off, which safe readings hold."
    )


def counted_words(told: CurveConversion) -> str:
    """What round strengths of the specimens broken count as, rounded down; "" where nothing is multiplied."""
    if told.form == "none":
        return ""
    low, high = told.span_mpa or USUAL_SPAN_MPA
    broken = [mpa for mpa in ROUND_MPA if low <= mpa <= high][:MOST_ROUND]
    if not broken:
        return ""
    counted = [math.floor(10.0 * told.convert(mpa) + 1e-9) / 10.0 for mpa in broken]
    return (
        f"Companions of the {told.from_geometry} are converted before they are compared: "
        f"{words.joined([f'{mpa:.0f}' for mpa in broken])} MPa broken count as "
        f"{words.joined([f'{mpa:.1f}' for mpa in counted])} MPa."
    )


def span_words(told: CurveConversion) -> str:
    """The range that the pairs hold as a rule to stop by; "" without pairs."""
    span = told.read_span_mpa
    if span is None:
        return ""
    return (
        f"A strength read below {span[0]:.1f} MPa or above {span[1]:.1f} MPa: no pairs of both geometries hold it, no "
        "reading."
    )


def error_words(told: ConversionFigures) -> str:
    """How far off a new batch is converted, at every target."""
    return "; ".join(f"{words.share(error)} at {age_label(age)} ({mpa:.0f} MPa)" for age, mpa, error in told.deciding)


def conversion_sentences(told: ConversionFigures) -> tuple[str, ...]:
    """What a reader must know before using a conversion."""
    if told.ratio_se is None:
        return (
            f"No pairs: the factor of {told.ratio:.3f} with {words.share(told.between_batch_cv)} from batch to batch "
            "is the plan's word, and nothing here checks it. Cast both geometries together in three batches or more.",
            NO_CONVERSION,
        )
    sentences = [_form(told), range_words(told), _ages(told), _more(told), NO_CONVERSION]
    return tuple(text for text in sentences if text)


def _form(told: ConversionFigures) -> str:
    left_out = dict(told.rms_left_out)
    tried = ", ".join(f"{form} {words.share(rms)}" for form, rms in told.rms_left_out)
    head = f"Batches left out are converted off by (RMS, specimens' scatter included): {tried}."
    if told.form == "none":
        return f"{head} The two geometries agree for all that {told.n_batches} batches tell; nothing is converted."
    if told.form == "power law" and told.power is not None:
        a, b = told.power
        low, high = told.span_mpa
        return (
            f"{head} One factor is not enough: it goes from {a * low ** (b - 1.0):.3f} at {low:.0f} MPa to "
            f"{a * high ** (b - 1.0):.3f} at {high:.0f} MPa, and the power law converts batches left out better."
        )
    if "power law" not in left_out:
        return f"{head} One factor is taken: {told.n_batches} batches with pairs are too few to tell a curved relation."
    return f"{head} One factor is enough: a power law converts batches left out no better than chance allows."


def range_words(told: ConversionFigures) -> str:
    """The strengths that the pairs hold, and whether the targets are among them."""
    low, high = told.span_mpa
    text = f"It holds from {low:.1f} to {high:.1f} MPa of the {told.from_geometry}, where the pairs are"
    beyond = [f"{age_label(age)} ({mpa:.0f} MPa)" for age, mpa, _ in told.deciding if not low <= mpa <= high]
    return f"{text}; the pairs do not reach {', '.join(beyond)}." if beyond else f"{text}; the targets lie within."


def _ages(told: ConversionFigures) -> str:
    if told.drift_per_decade is None:
        return "What is left does not change with age beyond chance."
    return (
        f"What is left changes with age by {words.share(told.drift_per_decade, is_signed=True)} for ten times the age, "
        "beyond chance; the error at a target counts it."
    )


def _more(told: ConversionFigures) -> str:
    if not told.more_pairs:
        return ""
    now = told.more_pairs[0][1]
    listed = ", ".join(f"{words.share(then)} with {more} more" for more, _, then in told.more_pairs)
    return (
        f"Further batches with pairs would bring its error at the target from {words.share(now)} to {listed}; "
        f"the {words.share(told.between_batch_cv)} by which batches differ stay."
    )
