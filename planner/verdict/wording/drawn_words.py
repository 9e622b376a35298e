"""What drawn batches support, in sentences: about how far off, and nothing of confidence or assurance."""

from __future__ import annotations

from planner.terms.labels import age_label, percent
from planner.terms.plan.settings import Target
from planner.terms.results.recommended.validation_figures import NextBatchVerdict, OwnBatchVerdict

NO_TWO_DRAWN_BATCHES = "no two batches were drawn from one population"
NO_SAFE_READING_DRAWN = "drawn batches are no basis for releasing concrete; break more batches at the target ages"
_NO_SETTING_TIME = "published growth knows nothing of setting time"
NOTHING_PUBLISHED = f"{_NO_SETTING_TIME}; break a first batch"


def drawn_headline(
    own: OwnBatchVerdict, later: NextBatchVerdict | None, target: Target, *, n_prior_batches: int | None, n_needed: int
) -> str:
    """About how far off; an assurance needs batches that were broken.

    Parameters
    ----------
    n_prior_batches
        That the population was learnt from; None where it is published growth.
    n_needed
        Broken batches that the wanted assurance takes.
    """
    tolerance, wanted = (percent(share, digits=0) for share in (target.tolerance, target.assurance))
    text = ""
    if later is not None:
        text += (
            f"A later pour read off one trial batch's curve is about {percent(later.rms)} off (RMS); "
            f"{percent(later.over_predicted_beyond_tolerance, digits=0)} of the drawn readings are too high by more "
            f"than {tolerance}. "
        )
    text += f"On the own batch about {percent(own.nested_rms)}. "
    rests = "published growth" if n_prior_batches is None else f"{n_prior_batches} prior batches"
    return (
        f"{text}All of it on batches drawn from {rests}, not on breaks of such batches. Drawn batches cannot show that "
        f"{wanted} keep the tolerance of {tolerance}: that takes breaks of at least {n_needed} batches at the target "
        "ages."
    )


def nothing_promised_headline(target: Target, *, below_h: float) -> str:
    """Why published growth puts schedules in order and no more where a target is younger than that."""
    early = ", ".join(age_label(age) for age in target.ages_h if age < below_h)
    late = ", ".join(age_label(age) for age in target.ages_h if age >= below_h)
    together = f", nor at {late} as long as it is judged together with that" if late else ""
    return (
        f"No error can be promised at {early}{together}: {_NO_SETTING_TIME}, so below {age_label(below_h)} it puts "
        "schedules in order and no more. Break a first batch at the target ages."
    )
