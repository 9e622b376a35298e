"""What drawn batches rest on, in words: learnt from sparse breaks, or from published growth."""

from __future__ import annotations

from collections.abc import Mapping

from planner.population.prior_breaks import PriorBreaks
from planner.terms.problems import Caution


def stand_for_all_words(n_known: int, n_kept: int) -> str:
    """That an even choice of very many batches is learnt from."""
    return (
        f"Of {n_known:,} batches {n_kept} stand for all, spread evenly over the records: their spread is known "
        "to 7 % of itself, and every batch more would cost time in proportion."
    )


def few_to_draw_from(n_batches: int, n_ages: int) -> tuple[Caution, ...]:
    """What decides where fewer than three batches or ages were broken; none otherwise."""
    if n_batches >= 3 and n_ages >= 3:
        return ()
    return (
        Caution(
            "little-to-draw-from",
            f"The population is drawn from {n_batches} {'batch' if n_batches == 1 else 'batches'} at {n_ages} "
            f"{'age' if n_ages == 1 else 'ages'}; with fewer than three of either, the usual spread between batches "
            "and the usual growth decide. Break one more batch before trusting the error.",
        ),
    )


def learnt_notes(weights: Mapping[str, float], breaks: PriorBreaks) -> tuple[str, ...]:
    """What a population learnt from breaks rests on.

    Parameters
    ----------
    weights
        Share of each growth family, by its name.
    """
    shares = ", ".join(f"{name} {100 * weight:.0f} %" for name, weight in weights.items())
    return (
        f"Batches are drawn from a population learnt from {breaks.n_breaks} standard-cured breaks of "
        f"{len(breaks.batches)} batches.",
        f"Growth families in proportion to how well they predict ages held out: {shares}.",
        "Spread between batches is shrunk towards the usual one (8 % in strength, 10 to 15 % in times), which "
        "counts as much as four batches: common practice, no source.",
        f"Within-test scatter: {breaks.scatter.source}; below the youngest tested age it rises with age^-0.146, "
        "as the medians of open data do from 28 d to 1 d.",
    )
