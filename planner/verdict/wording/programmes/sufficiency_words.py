"""Which number of specimens is enough, or why none is: the sentence."""

from __future__ import annotations

from planner.terms.labels import at_least_label, percent
from planner.terms.results.recommended.validation_figures import NextBatchVerdict
from planner.terms.results.sample_size import EnoughFigures


def sufficiency_words(found: EnoughFigures, later: NextBatchVerdict | None, n_best: int) -> str:
    """The answer in words, with its lower bound beside it."""
    who = "later pours" if found.basis == "next batch" else "own batches"
    kept = f"{percent(found.within_tolerance, digits=0)} of {who} within {percent(found.tolerance, digits=0)}"
    kept += at_least_label(found.within_tolerance_lower_95)
    over = f", {n_best // found.n_trial_batches} in each of {found.n_trial_batches} trial batches,"
    over = over if found.n_trial_batches > 1 else ""
    if found.is_reached:
        return f"{n_best} specimens{over} are enough: they keep {kept}." + _reservations(found, n_best)
    text = (
        f"No number of specimens within the budget is enough: {n_best} keep {kept}, "
        f"{percent(found.assurance, digits=0)} are wanted."
    )
    if found.n_specimens_beyond is not None:
        return text + f" About {found.n_specimens_beyond} would be (projected)."
    endless = percent(found.within_with_endless_specimens, digits=0)
    text += f" Nor would any number beyond it: however many keep about {endless}; the rest is "
    if later is None or found.basis == "own batch":
        return text + "curve and batch."
    return text + f"between batches, which differ by about {percent(later.between_batch_cv)}." + _trial_words(found)


def _reservations(found: EnoughFigures, n_best: int) -> str:
    text = ""
    worse = [step for step in found.steps if step.most_specimens > n_best and step.within_tolerance < found.assurance]
    if worse:
        text += (
            f" With up to {worse[0].most_specimens} the share reads {percent(worse[0].within_tolerance, digits=0)}, "
            "so the records only just carry this."
        )
    if found.basis == "own batch":
        text += " How later pours would do is unknown."
    return text


def _trial_words(found: EnoughFigures) -> str:
    if not found.by_trial_batches:
        return ""
    listed = ", ".join(
        f"{percent(trial.within_tolerance, digits=0)} with {trial.n_trial_batches} ({trial.n_specimens} specimens)"
        for trial in found.by_trial_batches[1:]
    )
    return f" The mean curve of several trial batches would keep: {listed}."
