"""On what an answer rests: the notes, and the first line where no break carries it."""

from __future__ import annotations

from planner.population import published_first_line
from planner.population.population_model import Population
from planner.terms.labels import age_label
from planner.terms.results.drawn_figures import Gain


def scatter_note(source: object) -> str:
    """Where the within-test scatter comes from."""
    return f"Within-test scatter: {source}."


def drawn_note(n_batches: int, n_mixes: int) -> str:
    """How many drawn batches judge the schedules."""
    return (
        f"Every schedule is judged on {n_batches} drawn batches of {n_mixes} drawn mixes; the recommended one is "
        "judged again on others."
    )


def records_notes(*, is_mix_named: bool, n_voided: int) -> list[str]:
    """What the records leave open and what of them was not used."""
    notes = [] if is_mix_named else ["The records name no mix, so all batches count as one mix."]
    return notes + ([f"{n_voided} voided breaks were not used."] if n_voided else [])


def first_line(population: Population | None, more: tuple[Gain, ...]) -> str:
    """What must be said before anything else of an answer that no break at these ages carries."""
    if population is None:
        return ""
    if population.breaks is None:
        sharpest = f" Most would be gained by one batch at {_ages_of(more[0])}." if more else ""
        return published_first_line(population.law) + sharpest
    n = len(population.breaks.batches)
    sharpest = f" Most would be gained by one more, broken at {_ages_of(more[0])}." if more else ""
    what = "batch" if n == 1 else "batches"
    return f"This rests on batches drawn from {n} prior {what}, not on breaks alone.{sharpest}"


def _ages_of(gain: Gain) -> str:
    return ", ".join(age_label(age) for age in gain.ages_h)


def own_batch_only_words(*, n_batches_of_a_mix: int, fewest: int) -> str:
    """Why later pours cannot be judged on."""
    have = "one batch of each mix" if n_batches_of_a_mix == 1 else "two batches of a mix at most"
    return (
        f"Programmes are judged on the trial batch's own concrete, since the records hold {have} and do not tell how "
        f"later pours differ: {fewest} batches of one mix would."
    )


SITE_RANGE_DRAWN = (
    "Errors over the site's temperatures are those of drawn batches, since the site records do not cover the range; "
    "every other figure is measured. Break companions at the ends of the range."
)


def not_compared_words(schedule: str) -> str:
    """Why a named schedule does not stand beside the recommended one."""
    return f'"{schedule}" is not compared: no batch that can be checked was broken at all of its ages.'


def site_not_scored_words(why: str) -> str:
    """That a site range beyond the records was not judged on drawn batches, and why."""
    return f"The site range could not be scored on drawn batches: {why}"
