"""A schedule named beforehand beside the rule, in one sentence."""

from __future__ import annotations

from planner.terms.labels import percent
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.schedule import Schedule

TOLD_APART = 0.05  # sign-flip p up to which the batches separate the two


def rival_sentence(label: ChoiceRole, *, rms: float, rival_rms: float, p: float, floor: float, n_batches: int) -> str:
    """Which of the two errs less on held-out batches, and whether the batches can tell."""
    verb = "errs less" if rms < rival_rms else "errs more" if rms > rival_rms else "errs as much"
    name = "plan's own" if label is ChoiceRole.COMPARED else str(label)
    separates = (
        f"the batches separate the two (sign-flip p about {p:.3f}"
        if p <= TOLD_APART
        else f"the batches do not separate the two (sign-flip p about {p:.2f}"
    )
    return (
        f"Against the {name} schedule the rule {verb} on held-out batches ({percent(rms)} against "
        f"{percent(rival_rms)} RMS); {separates}, approximate, at least {floor:.3f} with {n_batches} batches)."
    )


def rival_name(label: ChoiceRole) -> str:
    """What a schedule is called in a sentence; one the plan compares is the reader's own."""
    return "your schedule" if label is ChoiceRole.COMPARED else f"the {label} schedule"


def equality_words(
    name: str,
    theirs: tuple[Schedule, float],
    recommended: tuple[Schedule, float],
    needed: Schedule | None,
    n_well_placed: int | None,
) -> str:
    """How many specimens a schedule needs to err no more than the recommended one.

    Parameters
    ----------
    theirs, recommended
        Schedule with its nested error, relative.
    needed
        At its own ages; None where no number is enough.
    n_well_placed
        Fewest specimens of any schedule that errs no more than it; None where none does.
    """
    (schedule, rms), (ours, our_rms) = theirs, recommended
    beside = (
        f"{name} errs {percent(rms)} with {schedule.n_specimens} specimens, the recommended one "
        f"{percent(our_rms)} with {ours.n_specimens}"
    )
    if needed is None:
        text = f"{beside}; no number of specimens at its ages makes up for that, the rest is where they are broken"
    elif needed == schedule:
        text = f"{beside}; it errs no more as it stands"
    else:
        text = f"{beside}; at its own ages it needs {needed.n_specimens} to equal that"
    if n_well_placed is not None and n_well_placed < schedule.n_specimens:
        text += f". Well placed, {n_well_placed} specimens err no more than it does"
    return text[0].upper() + text[1:] + "."
