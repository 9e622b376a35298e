"""What may honestly be said of an answer that rests on drawn batches, and what more breaks would do to it."""

from __future__ import annotations

from planner.population import Population, ages_of, gains_from, is_promising_nothing, usual_additions
from planner.population.published_growth import NO_PROMISE_BELOW_H
from planner.terms.plan.settings import Settings
from planner.terms.problems import InputError, Problem
from planner.terms.results.drawn_figures import Gain
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest
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
from planner.verdict.wording.drawn_words import (
    NO_SAFE_READING_DRAWN,
    NO_TWO_DRAWN_BATCHES,
    NOTHING_PUBLISHED,
    drawn_headline,
    nothing_promised_headline,
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
        next_batch_unknown_because="" if later else NO_TWO_DRAWN_BATCHES,
        best_nested_rms=None,
        safe_reading_factor=None,
        safe_reading_basis=None,
        safe_reading_unknown_because=NO_SAFE_READING_DRAWN,
        per_target=targets_of(look, pairs),
        folds=(),
        rivals=(),
        sentence=drawn_headline(
            own,
            later,
            settings.target,
            n_prior_batches=None if population.breaks is None else len(population.breaks.batches),
            n_needed=batches_needed(settings.target.assurance),
        ),
    )


def _nothing_promised(settings: Settings) -> Honest:
    return Honest(
        own_batch=None,
        next_batch=None,
        next_batch_unknown_because=NOTHING_PUBLISHED,
        best_nested_rms=None,
        safe_reading_factor=None,
        safe_reading_basis=None,
        safe_reading_unknown_because=NOTHING_PUBLISHED,
        per_target=(),
        folds=(),
        rivals=(),
        sentence=nothing_promised_headline(settings.target, below_h=NO_PROMISE_BELOW_H),
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
