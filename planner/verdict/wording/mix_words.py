"""What is said of mixes left out: the quantile, heavy tails, the worst mixes, and what so few cannot carry."""

from __future__ import annotations

from planner.terms.labels import age_label, at_most_label, is_useful_bound, percent
from planner.terms.results.mix_errors import Common, MixErrors, Trait
from planner.verdict.statistics.order_bounds import n_worst
from planner.verdict.wording.held_out_words import wider_words

# Why the records do not tell how batches of one mix differ, as the end of a sentence:
CHECKS_ARE_DRAWN = "the checks are drawn batches, not measured ones"
SEVERAL_MIXES = "the records hold several mixes, so they do not tell how pours of one mix differ"
NEVER_WARM = "some concrete was never warm enough to gain any maturity"


def quantile_words(found: MixErrors) -> str:
    """``8 in 10 mixes are read within 15.4 % (at most 21.0 % at 95 %).``"""
    head = f"8 in 10 of {found.n_mixes} mixes left out are read within {percent(found.quantile_abs)}"
    if found.quantile_upper_95 is not None:
        whose = "of all such mixes " if is_useful_bound(found.quantile_upper_95) else ""
        return f"{head} ({whose}{at_most_label(found.quantile_upper_95)})."
    return f"{head}; to bound that takes {found.n_more_for_quantile} more mixes."


def tail_words(found: MixErrors) -> str:
    """Why the quantile leads, and which mixes the error is made of."""
    text = ""
    if found.is_heavy_tailed:
        n = n_worst(found.n_mixes)
        which = "worst mix makes" if n == 1 else f"{n} worst mixes make"
        text = (
            f" Tails are heavy: the {which} {percent(found.worst_fifth_share, digits=0)} of the squared error, so "
            "that the RMS error tells of them alone."
        )
    if found.worst:
        listed = ", ".join(f"{worst.mix} {percent(worst.error, is_signed=True)}" for worst in found.worst)
        text += f" Worst: {listed}{_common_words(found.in_common)}."
    return text


def few_checked_words(n_batches: int, fewest: int) -> str:
    """That too few batches can be checked, as the end of a sentence."""
    return f"{n_batches} batches can be checked and {fewest} are needed"


def _common_words(traits: tuple[Common, ...]) -> str:
    if not traits:
        return ", alike neither in strength at the target nor in the last age broken"
    texts = []
    for common in traits:
        which = "lowest" if common.is_low else "highest"
        texts.append(
            f"all in the {which} third by {common.trait} ({_span(common.trait, common.worst)}, the others "
            f"{_span(common.trait, common.others)})"
        )
    return "; " + " and ".join(texts)


def _span(trait: Trait, ends: tuple[float, float]) -> str:
    if trait == Trait.STRENGTH:
        return f"{ends[0]:.1f} to {ends[1]:.1f} MPa"
    first, last = age_label(ends[0]), age_label(ends[1])
    return first if first == last else f"{first} to {last}"


def share_words(needed: float | None, *, assurance: float, tolerance: float, n_mixes: int, fewest: int) -> str:
    """The assurance sentence of mixes, or its refusal with how many are missing.

    Parameters
    ----------
    needed
        Distance within which the wanted share of all such mixes lies at 95 % confidence; None with too few mixes.
    fewest
        Mixes that carry such a bound at all.
    """
    wanted, within = percent(assurance, digits=0), percent(tolerance, digits=0)
    if needed is not None and needed <= tolerance:
        return f" With 95 % confidence, {wanted} of mixes lie within {within}."
    refusal = f" It cannot be said that {wanted} of mixes lie within {within}"
    if needed is None:
        return f"{refusal}: that takes {fewest} mixes or more, {fewest - n_mixes} more than these."
    return f"{refusal}: {wider_words(needed, wanted)}."


def safe_reading_words(found: MixErrors) -> str:
    """Why no safe reading is given."""
    more = found.n_more_for_safe_reading
    return (
        f"{found.n_mixes} mixes left out give no bound on over-prediction of another mix; it takes {more} more "
        f"{'mix' if more == 1 else 'mixes'}"
    )
