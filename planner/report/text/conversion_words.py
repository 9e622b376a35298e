"""A conversion between two geometries in words: which form, why, for which strengths, what more pairs would do."""

from __future__ import annotations

from planner.report.text import words
from planner.terms.labels import age_label
from planner.terms.results.conversion_figures import ConversionFigures

NO_CONVERSION = (
    "Class pairs such as C30/37 (EN 206, EN 1992) and the length-to-diameter corrections of ASTM C39 are no such "
    "conversion: the first are rounded names of classes, the second serve short cores and cylinders of one diameter."
)


def line_words(told: ConversionFigures) -> str:
    """The conversion as it is used."""
    if told.form == "none":
        return "equal, nothing is converted"
    if told.form == "power law" and told.power is not None:
        return f"{told.power[0]:.4g} times the strength in MPa to the power {told.power[1]:.4f}"
    if told.ratio_se is None:
        return f"{told.ratio:.3f} times, as the plan states"
    return f"{told.ratio:.3f} times, standard error {told.ratio_se:.3f}"


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
    sentences = [_form(told), _range(told), _ages(told), _more(told), NO_CONVERSION]
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


def _range(told: ConversionFigures) -> str:
    low, high = told.span_mpa
    text = f"It holds from {low:.0f} to {high:.0f} MPa of the {told.from_geometry}, where the pairs are"
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
