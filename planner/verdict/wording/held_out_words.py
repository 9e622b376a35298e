"""The headline of measured records: how far off a later pour and the own batch will be, and what may be claimed."""

from __future__ import annotations

from planner.terms.labels import NO_USEFUL_BOUND, at_most_label, is_useful_bound, percent
from planner.terms.results.recommended.validation_figures import NextBatchVerdict, OwnBatchVerdict
from planner.verdict.statistics.coverage_bounds import most_claimable_assurance

LEAVING_OUT = "Leaving every batch out of every schedule"  # while it is done
JUDGING = "Judging every schedule on later pours"
ONE_BATCH_NO_LATER_POUR = "one batch alone cannot show how batches differ"
ONE_BATCH_NO_SAFE_READING = "one batch alone gives no bound on over-prediction"
NO_TWO_BATCHES_OF_A_MIX = (
    "no mix in the records has two batches, so how batches of one mix differ is unknown; "
    "add a second batch or state [prior] between_batch_cv"
)


def later_words(later: NextBatchVerdict | None, why_not: str, *, n_trial_batches: int, tolerance: float) -> str:
    """How far off a later pour will be, or why that is not known."""
    if later is None:
        return f"How far off a later pour would be is unknown: {why_not}."
    read = "one trial batch's curve" if n_trial_batches == 1 else f"the mean curve of {n_trial_batches} trial batches"
    bound = f", {at_most_label(later.rms_upper_95)}" if later.rms_upper_95 else ""
    return (
        f"With the choosing held out, a later pour read off {read} is about {percent(later.rms)} off (RMS{bound}); "
        f"{percent(later.over_predicted_beyond_tolerance, digits=0)} of such readings are too high by more than "
        f"{percent(tolerance, digits=0)}."
    )


def own_words(own: OwnBatchVerdict) -> str:
    """How far off the trial batch itself is read."""
    text = f"On the own batch about {percent(own.nested_rms)}"
    text += f" ({at_most_label(own.rms_upper_95)})." if own.rms_upper_95 else "."
    return f"{text} That is smaller than these records can resolve." if own.is_below_resolution else text


def too_few_words(n_batches: int, bound_with_more: float) -> str:
    """One or two batches bound nothing."""
    is_useful = is_useful_bound(bound_with_more)
    then = f"it would be about {percent(bound_with_more)}" if is_useful else NO_USEFUL_BOUND
    return f" {n_batches} batches cannot carry a bound; with 5 more like these {then}."


def claim_words(needed: float | None, *, assurance: float, tolerance: float, n_batches: int) -> str:
    """The assurance sentence, or its refusal at the level so many batches support.

    Parameters
    ----------
    needed
        Distance within which the wanted share of all batches lies at 95 % confidence.
    """
    wanted, within = percent(assurance, digits=0), percent(tolerance, digits=0)
    if needed is not None and needed <= tolerance:
        return f" With 95 % confidence, {wanted} of batches lie within {within}."
    most = most_claimable_assurance(n_batches)
    limit = (
        f"{n_batches} batches could at best show {percent(most, digits=0)}"
        if most < assurance
        else f"{n_batches} batches show less"
    )
    refusal = f" It cannot be said that {wanted} of batches lie within {within}: {limit}"
    return f"{refusal}; {wider_words(needed, wanted)}."


def wider_words(needed: float | None, wanted: str) -> str:
    """What can be said instead, however wide; None is wider than any."""
    if needed is None or not is_useful_bound(needed):
        return NO_USEFUL_BOUND
    return f"at 95 % confidence no more can be said than that {wanted} lie within {percent(needed)}"


def one_batch_words(apparent_rms: float, *, n_needed: int, assurance: float) -> str:
    """Why one batch promises nothing."""
    return (
        f"Nothing can be promised: with one batch no choice can be judged on concrete it has not seen. Its error on "
        f"that batch itself, {percent(apparent_rms)} RMS, is apparent and too small. At least three batches give a "
        f"bound, {n_needed} can carry a {percent(assurance, digits=0)} claim."
    )


def too_few_for_safe_reading(n_batches: int) -> str:
    """Why no safe reading is given."""
    return f"{n_batches} batches give no bound on over-prediction; three are the fewest"
