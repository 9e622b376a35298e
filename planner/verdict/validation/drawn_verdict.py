"""What may honestly be said of an answer that rests on drawn batches, and what more breaks would do to it."""

from __future__ import annotations

from planner.population import Population, ages_of, gains_from, is_promising_nothing, usual_additions
from planner.population.published_growth import NO_PROMISE_BELOW_H
from planner.terms.labels import age_label, percent
from planner.terms.plan.settings import Settings
from planner.terms.problems import InputError, Problem
from planner.terms.results.drawn_figures import Gain
from planner.terms.results.recommendation import Honest, NextBatchVerdict, OwnBatchVerdict, RatedChoice
from planner.verdict.statistics.coverage_bounds import batches_needed
from planner.verdict.validation.drawn_batches import (
    FRESH_SEED,
    FreshLook,
    fresh_look,
    next_batch_of,
    own_batch_of,
    pairs_of,
    targets_of,
)


def look_and_gains(
    population: Population, settings: Settings, choice: RatedChoice
) -> tuple[FreshLook, tuple[Gain, ...]]:
    """Judge the choice on fresh batches, and again after one more batch of breaks."""
    ways = usual_additions(population, settings)
    look = fresh_look(population, settings, choice, ages_h=ages_of(ways))
    return look, gains_from(look.drawn, ways, seed=FRESH_SEED)


def promises_nothing(population: Population | None, settings: Settings) -> bool:
    """Whether schedules may be put in order, but no error said: published growth at targets below 3 d."""
    return population is not None and population.grade == "published" and is_promising_nothing(settings)


def drawn_honest(population: Population, look: FreshLook, apparent_rms: float) -> Honest:
    """The honest part from fresh batches; nothing but the order where nothing may be promised."""
    settings = look.settings
    if promises_nothing(population, settings):
        return _nothing_promised(settings)
    own = own_batch_of(look, apparent_rms)
    pairs = pairs_of(look)
    later = None if pairs is None else next_batch_of(look, pairs)
    return Honest(
        own_batch=own,
        next_batch=later,
        next_batch_unknown_because="" if later else "no two batches were drawn from one population",
        best_nested_rms=None,
        safe_reading_factor=None,
        safe_reading_basis="drawn batches are no basis for releasing concrete; break more batches at the target ages",
        per_target=targets_of(look, pairs),
        folds=(),
        rivals=(),
        sentence=_sentence(population, settings, own, later),
    )


def _nothing_promised(settings: Settings) -> Honest:
    ages_h = settings.target.ages_h
    early = ", ".join(age_label(age) for age in ages_h if age < NO_PROMISE_BELOW_H)
    late = ", ".join(age_label(age) for age in ages_h if age >= NO_PROMISE_BELOW_H)
    together = f", nor at {late} as long as it is judged together with that" if late else ""
    below = age_label(NO_PROMISE_BELOW_H)
    why = "published growth knows nothing of setting time"
    return Honest(
        own_batch=None,
        next_batch=None,
        next_batch_unknown_because=f"{why}; break a first batch",
        best_nested_rms=None,
        safe_reading_factor=None,
        safe_reading_basis=f"{why}; break a first batch",
        per_target=(),
        folds=(),
        rivals=(),
        sentence=f"No error can be promised at {early}{together}: {why}, so below {below} it puts schedules in order "
        "and no more. Break a first batch at the target ages.",
    )


def _sentence(population: Population, settings: Settings, own: OwnBatchVerdict, later: NextBatchVerdict | None) -> str:
    """About how far off, and nothing of confidence or assurance: these need batches that were broken."""
    tolerance, wanted = (percent(share, digits=0) for share in (settings.target.tolerance, settings.target.assurance))
    told = ""
    if later is not None:
        told += (
            f"A later pour read off one trial batch's curve will be about {percent(later.rms)} off (RMS); "
            f"{percent(later.over_predicted_beyond_tolerance, digits=0)} of the drawn readings are too high by more "
            f"than {tolerance}. "
        )
    told += f"On the own batch about {percent(own.nested_rms)}. "
    rests = "published growth" if population.breaks is None else f"{len(population.breaks.batches)} prior batches"
    return (
        f"{told}All of it on batches drawn from {rests}, not on breaks of such batches. Drawn batches cannot show that "
        f"{wanted} keep the tolerance of {tolerance}: that takes breaks of at least "
        f"{batches_needed(settings.target.assurance)} batches at the target ages."
    )


def check_promising(population: Population | None, settings: Settings) -> None:
    """Refuse questions whose every answer is an error, where none may be promised.

    Raises
    ------
    InputError
        With published growth and a target below 3 d.
    """
    if promises_nothing(population, settings):
        raise InputError(
            [
                Problem(
                    "plan",
                    "Published growth promises no error at targets below 3 d, so neither what an error costs nor the "
                    "least that has to be broken can be told. Ask for the recommendation, which puts schedules in "
                    "order, and break a first batch.",
                    column="prior.published",
                )
            ]
        )
