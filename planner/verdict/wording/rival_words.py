"""A schedule named beforehand beside the rule, in one sentence."""

from __future__ import annotations

from planner.terms.labels import percent
from planner.terms.results.choice_role import ChoiceRole

TOLD_APART = 0.05  # sign-flip p up to which the batches separate the two


def rival_sentence(label: ChoiceRole, *, rms: float, rival_rms: float, p: float, floor: float, n_batches: int) -> str:
    """Which of the two errs less on held-out batches, and whether the batches can tell."""
    verb = "errs less" if rms < rival_rms else "errs more"
    separates = (
        f"the batches separate the two (sign-flip p about {p:.3f}"
        if p <= TOLD_APART
        else f"the batches do not separate the two (sign-flip p about {p:.2f}"
    )
    return (
        f"Against the {label} schedule the rule {verb} on held-out batches ({percent(rms)} against "
        f"{percent(rival_rms)} RMS); {separates}, approximate, at least {floor:.3f} with {n_batches} batches)."
    )
