"""Figures and settings in words, the same on every output, and foreign text made harmless."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from itertools import groupby, pairwise

from planner.terms.labels import (
    LEAST_USEFUL_SHARE,
    MOST_USEFUL_BOUND,
    NO_USEFUL_BOUND,
    age_label,
    at_most_label,
    is_useful_bound,
    percent,
)
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName, Weighting
from planner.terms.results.programme_count import BreakHour
from planner.terms.results.recommended.rated_choice import BatchError, ErrorFigures, RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.sample_size import Basis
from planner.terms.schedule import Schedule

NONE = "-"  # where there is no figure
FLOOR_MARK = " *"
NO_ERROR_PROMISED = (
    "Below 3 d published growth promises no error: RMS errors only put schedules in order, and shares inside the "
    "tolerance or over it are not told."
)
NO_BOUND_CELL = "none useful"
NO_BOUND_NOTE = f"{NO_BOUND_CELL}: {NO_USEFUL_BOUND}, it would lie beyond {percent(MOST_USEFUL_BOUND, digits=0)}."
FLOOR_NOTE = "* smaller than these records can resolve: the figure is what the scatter of the specimens alone gives."

WEIGHTING_WORDS = {
    "relative": "relative (every break counts by its percentage error)",
    "absolute": "absolute (every break counts by its error in MPa)",
}

LEARNT_WORDS = "learnt from the earlier batches"  # instead of a weighting

SHORT_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

FEWEST_CHARACTERS = 40  # of a first sentence that tells enough by itself
_SENTENCE_END = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")
_BLANKS = re.compile(r"\s+")


def clean(text: str, *, limit: int | None = None) -> str:
    """Take control characters and direction overrides out of foreign text, and shorten it.

    Names come from other people's files: an escape sequence must not steer a terminal, an override must
    not turn a line around. Line ends and tabs become blanks.
    """
    kept = "".join(
        character if unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Cn") else " "
        for character in text.replace("\u200d", "")
    )
    tidy = _BLANKS.sub(" ", kept).strip()
    if limit is not None and len(tidy) > limit:
        return tidy[: limit - 1].rstrip() + "…"
    return tidy


def share(value: float | None, *, is_signed: bool = False) -> str:
    """A relative figure as a percentage, a dash where there is none."""
    if value is None or not math.isfinite(value):
        return NONE
    return percent(value, is_signed=is_signed)


def efficiency_words(advice: Recommendation) -> str:
    """``68 % efficient``, with the curve that scatter is reckoned for where the recommended one has no such limit."""
    limit = advice.limit
    assert limit is not None
    of = "" if limit.curve in (None, advice.recommended.curve) else f", if read with the {limit.curve} curve"
    return f"{whole_share(limit.efficiency)} efficient{of}"


def limit_words(advice: Recommendation) -> str:
    """What specimens can do about the three figures of limit, scatter and error."""
    assert advice.limit is not None
    if advice.limit.curve in (None, advice.recommended.curve):
        return "More or better placed specimens can lower the first two only; curve and batch do the rest."
    return (
        f"The first two are of the {advice.limit.curve} curve, as the recommended one has no such limit; the error is "
        "of the recommended one and may lie below them."
    )


def whole_share(value: float | None) -> str:
    """A share of batches as a percentage without decimals."""
    if value is None or not math.isfinite(value):
        return NONE
    return percent(value, digits=0)


def upper_bound(value: float | None) -> str:
    """The upper bound of an error, and where it is too wide that there is none of use."""
    return share(value) if value is None or is_useful_bound(value) else NO_BOUND_CELL


def lower_bound(value: float | None) -> str:
    """The lower bound of a share, and where it is next to nothing that there is none of use."""
    return whole_share(value) if value is None or value >= LEAST_USEFUL_SHARE else NO_BOUND_CELL


def factor(value: float | None) -> str:
    """A factor with two decimals, rounded up: it is waited for."""
    if value is None or not math.isfinite(value):
        return NONE
    return f"{math.ceil(value * 100 - 1e-9) / 100:.2f}"


def money(value: float | None, currency: str) -> str:
    """An amount without decimals."""
    if value is None or not math.isfinite(value):
        return NONE
    return f"{value:.0f} {clean(currency, limit=8)}".strip()


def judges_words(advice: Recommendation) -> str:
    """What the apparent errors are errors on."""
    return "these records" if advice.evidence.checked_against != "drawn" else "the drawn batches that ranked"


def is_error_promised(advice: Recommendation) -> bool:
    """Whether errors may be relied on; published growth below 3 d only puts schedules in order."""
    return advice.evidence.grade != "published" or advice.honest.own_batch is not None


def at_most(advice: Recommendation, bound: float | None) -> str:
    """``, at most 5.1 % at 95 %``; nothing where drawn batches judge: they carry no such sentence."""
    if bound is None or advice.evidence.grade != "measured":
        return ""
    return f", {at_most_label(bound)}"


def eight_in_ten(advice: Recommendation, basis: str) -> str:
    """``8 in 10 mixes within 15.4 %, at most 21.0 % at 95 %``; nothing where no mixes are left out on this basis."""
    mixes = advice.honest.mixes
    if mixes is None or mixes.basis != basis:
        return ""
    return f"8 in 10 mixes within {share(mixes.quantile_abs)}{at_most(advice, mixes.quantile_upper_95)}"


def with_quantile(advice: Recommendation, basis: str, read: str) -> str:
    """The reading's error with the quantile beside it, before it where tails are heavy."""
    quantile = eight_in_ten(advice, basis)
    if not quantile or advice.honest.mixes is None:
        return read
    return f"{quantile}; {read}" if advice.honest.mixes.is_heavy_tailed else f"{read}; {quantile}"


def legend(advice: Recommendation, text: str) -> str:
    """What columns of errors mean, or why they may only be compared with one another."""
    return text if is_error_promised(advice) else NO_ERROR_PROMISED


def equal_gain_words(advice: Recommendation) -> str:
    """What the label means, where it stands."""
    return "" if advice.equal_gain is None else " equal gain: ages spaced for equal strength steps."


def rms_words(figures: ErrorFigures) -> str:
    """The apparent rms, marked where the floor acts."""
    return share(figures.rms) + (FLOOR_MARK if figures.is_below_resolution else "")


def batch_error_words(error: BatchError | None) -> str:
    """``+6.5 % B4``."""
    if error is None:
        return NONE
    return f"{share(error.error, is_signed=True)} {clean(error.batch, limit=16)}"


def curve_words(choice: RatedChoice) -> str:
    """Curve with its weighting in full."""
    if choice.curve in PRIOR_CURVE_NAMES:
        return f"{choice.curve}, {LEARNT_WORDS}"
    return f"{choice.curve}, weighting {WEIGHTING_WORDS[choice.weighting]}"


def short_curve(choice: RatedChoice) -> str:
    """Curve with its weighting in a phrase."""
    is_learnt = choice.curve in PRIOR_CURVE_NAMES
    return f"{choice.curve}, {LEARNT_WORDS}" if is_learnt else f"{choice.curve}, {choice.weighting} weights"


def maturity_words(setting: MaturitySetting) -> str:
    """The maturity method in a phrase that can be handed on."""
    if setting.method == "age":
        return "none: age stands for maturity"
    if setting.method == "equivalent age":
        return f"equivalent age with Q = {setting.constant:g} K, reference {setting.reference_c:g} C"
    return f"temperature-time factor with datum temperature {setting.constant:g} C"


def short_maturity_words(setting: MaturitySetting) -> str:
    """The maturity method and its constants for a line."""
    if setting.method == "equivalent age":
        return f"equivalent age, Q {setting.constant:g} K at {setting.reference_c:g} C"
    return "age" if setting.method == "age" else f"temperature-time factor, datum {setting.constant:g} C"


def short_model(choice: RatedChoice) -> str:
    """Curve, weighting and constant for a narrow column."""
    return f"{weighted(choice.curve, choice.weighting)}, {constant_words(choice.maturity)}"


def weighted(curve: CurveName, weighting: Weighting) -> str:
    """Curve and weighting for a narrow column; a curve with a prior knows none."""
    return curve if curve in PRIOR_CURVE_NAMES else f"{curve}, {weighting}"


def break_hour_words(hours: Sequence[BreakHour]) -> str:
    """``Mon 11:00, 13:00 and 15:00; Mon 07:00, 14 days later``: an entry for every visit, by the day it begins on."""
    visits = [tuple(found) for _, found in groupby(hours, key=lambda hour: hour.visit)]
    stated = [_visit_words(found) for found in visits]
    return "; ".join(
        f"{text}{_later_words(found[0].day)}"
        if place + 1 == len(visits) or visits[place + 1][0].day != found[0].day
        else text
        for place, (text, found) in enumerate(zip(stated, visits, strict=True))
    )


def _visit_words(hours: Sequence[BreakHour]) -> str:
    times = [f"{hour.starts:%H:%M}" + ("!" if hour.is_outside_hours else "") for hour in hours]
    for place, (before, hour) in enumerate(pairwise(hours), start=1):
        if hour.day != before.day:  # past midnight
            times[place] = f"{SHORT_WEEKDAYS[hour.weekday]} {times[place]}"
    listed = times[0] if len(times) == 1 else ", ".join(times[:-1]) + " and " + times[-1]
    return f"{SHORT_WEEKDAYS[hours[0].weekday]} {listed}"


def _later_words(day: int) -> str:
    return "" if day == 0 else f", {day} {'day' if day == 1 else 'days'} later"


def constant_words(setting: MaturitySetting) -> str:
    """The constant alone: it tells the method too."""
    if setting.method == "equivalent age":
        return f"Q {setting.constant:g} K"
    if setting.method == "temperature-time":
        return f"datum {setting.constant:g} C"
    return "age"


def ages_words(ages_h: tuple[float, ...]) -> str:
    """``6 h, 12 h and 1 d``."""
    return joined([age_label(age) for age in ages_h])


def asked_words(advice: Recommendation) -> str:
    """``strength at 6 h and when 20 MPa (about 14 h) is there``: what is to be known."""
    waits = [wait is not None for wait in advice.target_waits_mpa] or [False] * len(advice.target_ages_h)
    labels = [advice.target_label(age) for age in advice.target_ages_h]
    ages = [label for label, is_strength in zip(labels, waits, strict=True) if not is_strength]
    strengths = [label for label, is_strength in zip(labels, waits, strict=True) if is_strength]
    parts = [f"strength at {joined(ages)}"] if ages else []
    if strengths:
        parts.append(f"when {joined(strengths)} {'are' if len(strengths) > 1 else 'is'} there")
    return " and ".join(parts)


def joined(labels: list[str]) -> str:
    """``one, two and three``."""
    if len(labels) < 2:
        return "".join(labels)
    return ", ".join(labels[:-1]) + " and " + labels[-1]


def joint_key(choice: RatedChoice) -> tuple[Schedule, str, str, MaturitySetting]:
    """What makes a joint choice the one it is."""
    return choice.schedule, choice.curve, choice.weighting, choice.maturity


def basis_words(basis: Basis) -> str:
    """Own batch or later pour, by the names that stand on every screen."""
    return "later-pour" if basis == "next batch" else "own-batch"


def weaker_words(assurance: float) -> str:
    """What a safe reading leaves open: ``1 pour in 10 may still be weaker``."""
    share = 1.0 - assurance
    one_in = round(1.0 / share) if share > 0 else 0
    if share > 0 and abs(one_in * share - 1.0) < 0.02:
        return f"1 pour in {one_in} may still be weaker"
    return f"{whole_share(share)} of pours may still be weaker"


def first_sentence(text: str) -> str:
    """What stands before the second sentence begins, or the third where the first says little."""
    sentences = _SENTENCE_END.split(text.strip())
    return sentences[0] if len(sentences[0]) >= FEWEST_CHARACTERS else " ".join(sentences[:2])
