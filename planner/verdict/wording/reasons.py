"""Why this, why not the next, why not the customary: sentences built from the numbers."""

from __future__ import annotations

from planner.terms.labels import percent, schedule_label, trial_batches_label
from planner.terms.results.programme_figures import SpendingFigures
from planner.terms.results.recommended.design_figures import Limit
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest


def reasons(
    recommended: RatedChoice,
    best: RatedChoice,
    *,
    n_tied: int,
    n_choices: int,
    customary: RatedChoice | None,
    next_best: tuple[RatedChoice, ...],
    honest: Honest,
    limit: Limit | None,
    money: SpendingFigures | None = None,
) -> tuple[str, ...]:
    """Build the sentences, most important first; `money` where programmes were judged."""
    found = [_why_this(recommended, best, n_tied, n_choices, money)]
    lowest = None if money is None else money.lowest
    if customary is not None:
        found.append(_beside("the customary schedule", customary, recommended))
    found += [rival.sentence for rival in honest.rivals]
    other = next((choice for choice in next_best if choice.schedule != recommended.schedule), None)
    if other is not None:
        found.append(_beside("the next best schedule", other, recommended))
    if limit is not None:
        found.append(
            f"No placement of {recommended.schedule.n_specimens} specimens could bring the part due to their "
            f"scatter below {percent(limit.rms)}; this one has {percent(limit.schedule_rms)} (efficiency "
            f"{percent(limit.efficiency, digits=0)}, for the {limit.curve} curve). What curve and batch add to it no "
            "specimen buys."
        )
    if lowest is not None and lowest.next_batch is not None:
        found.append(
            "The lowest later-pour error of all schedules within the limits, "
            f"{percent(lowest.next_batch.rms, digits=2)}, has {schedule_label(lowest.schedule)} ({lowest.curve}, "
            f"{trial_batches_label(lowest.n_trial_batches)}), "
            f"with {percent(lowest.own_batch_rms)} on its own concrete. Ages and curve are ranked by the own batch: a "
            "curve that the trial batch's own companions do not bear out reads later pours well by luck, or because it "
            "reads low."
        )
    return tuple(found)


def _why_this(
    recommended: RatedChoice, best: RatedChoice, n_tied: int, n_choices: int, money: SpendingFigures | None
) -> str:
    """What the rule took it for: enough at the lowest price, or tied with the best at the lowest price."""
    is_enough = money is not None and money.is_enough
    where = "the later pour" if money is not None and money.judged_on == "later pour" else "the own batch"
    if recommended.schedule == best.schedule:
        tied = f"; {n_tied - 1} others are tied with it and none is cheaper" if n_tied > 1 else ""
        return f"Lowest score of {n_choices} schedules{'; nothing cheaper is good enough' if is_enough else tied}."
    taken = (
        f"the cheapest that is good enough on {where}"
        if is_enough
        else f"the cheapest that these batches cannot tell apart from the best on {where}"
    )
    apparent = f"apparent {percent(recommended.error.rms)} against {percent(best.error.rms)} RMS"
    return (
        f"The lowest score of {n_choices} schedules has {schedule_label(best.schedule)}. The recommended one is "
        f"{taken}{_spared(recommended, best)} ({apparent})."
    )


def _spared(recommended: RatedChoice, best: RatedChoice) -> str:
    """`` and spares 3 specimens and 1 visit``; nothing where nothing is spared."""
    specimens = best.schedule.n_specimens - recommended.schedule.n_specimens
    visits = best.n_visits - recommended.n_visits
    parts = [_counted(specimens, "specimen")] if specimens > 0 else []
    parts += [_counted(visits, "visit")] if visits > 0 else []
    return f"; it spares {' and '.join(parts)}" if parts else ""


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _beside(name: str, other: RatedChoice, recommended: RatedChoice) -> str:
    worst = other.error.worst_over_prediction
    peril = f", with {worst.batch} over-predicted by {percent(worst.error)}" if worst is not None else ""
    return (
        f"With {name} ({schedule_label(other.schedule)}, {other.curve}) the apparent error is "
        f"{percent(other.error.rms)} RMS against {percent(recommended.error.rms)}{peril}."
    )
