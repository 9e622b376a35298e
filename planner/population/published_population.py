"""The population where nothing was broken: published growth with stated spreads about it."""

from __future__ import annotations

import numpy as np

from planner.population.growth_families import DEFAULT_SET_H, Family, Shape, hardening_h
from planner.population.markov_chains import BATCH_FALL, BATCH_SIZES, MIX_SIZES, SCALE_BETWEEN_SD
from planner.population.population_model import N_CHAINS, Component, Population, q_range_k
from planner.population.published_growth import DAY_H, NO_PROMISE_BELOW_H, Law, log_share, published_law
from planner.population.shape_covariance import covariance_root, draw_precision_root
from planner.population.wording.published_words import published_cautions, published_notes
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Settings
from planner.terms.problems import InputError, Problem

# Of the mix about its law, all common practice, no source:
EXPECTED_STRENGTH_SD = 0.10  # of the 28 d strength about the expected one
PACE_SD = 0.20  # of ln of the exponent on the law: half the step from one EN class to the next (.20, .25, .38)
SET_SD = 0.35  # of ln of the setting time where the plan states none
STATED_SET_SD = 0.20  # where it does
MIX_FALL = 0.05  # departures of a mix from its law are larger than those from a fitted curve
# Of batches about their mix, common practice, no source:
PACE_BETWEEN_SD = 0.08
SET_BETWEEN_SD = 0.10
_TWENTY_EIGHT_DAYS_H = 28 * DAY_H


def published_population(settings: Settings, *, seed: int = 1) -> Population:
    """Draw populations about published growth.

    Raises
    ------
    InputError
        Where the law is not known or does not serve a target, the 28 d strength is missing, or a site range
        is given for a law without temperatures.
    """
    prior = settings.prior
    law = published_law(prior.published or "", settings.target.ages_h)
    problems = _problems(law, settings)
    if problems:
        raise InputError(problems)
    component = _component(law, settings, seed=seed)
    standard_c = settings.maturity.reference_c if prior.standard_curing_c is None else prior.standard_curing_c
    setting = _middle(settings)
    return Population(
        grade="published",
        components=(component,),
        breaks=None,
        tested_ages_h=(),
        settings=(setting,),
        standard_c=standard_c,
        q_range_k=q_range_k(settings.maturity),
        scale_h=1.0,
        cautions=published_cautions(law, settings),
        notes=published_notes(law, settings, strength_sd=EXPECTED_STRENGTH_SD),
        law=law.name,
    )


def is_promising_nothing(settings: Settings) -> bool:
    """Whether published growth may order schedules but say no error: any target below 3 d."""
    return min(settings.target.ages_h) < NO_PROMISE_BELOW_H


def family_of(law: Law, *, final_set_h: float) -> Family:
    """Growth family of a law: 28 d strength, an exponent on the law, and a setting time it knows nothing of."""
    stated_h = final_set_h or law.set_h or 0.0
    shapes = (
        Shape("pace", 0.0, PACE_SD, PACE_BETWEEN_SD),
        Shape(
            "set_h",
            float(np.log(stated_h or DEFAULT_SET_H)),
            STATED_SET_SD if stated_h else SET_SD,
            SET_BETWEEN_SD,
        ),
    )

    def log_law(maturity_h: FloatArray, shapes: FloatArray) -> FloatArray:
        log_pace, log_set = shapes
        since = hardening_h(maturity_h, log_set) / np.exp(log_set)
        # The law is left alone from about three setting times on; before setting nothing is left of it.
        return np.asarray(np.exp(log_pace) * log_share(law, maturity_h) + np.log(-np.expm1(-(since**2)) + 1e-12))

    return Family(law.name, shapes, log_law, False)


def _component(law: Law, settings: Settings, *, seed: int) -> Component:
    generator = np.random.default_rng((seed, 77))
    family = family_of(law, final_set_h=settings.final_set_h)
    between = settings.prior.between_batch_cv or SCALE_BETWEEN_SD
    expected = np.log(settings.prior.strength_28d_mpa or 1.0)
    centre = np.array([expected, *(shape.mean for shape in family.shapes)])
    sd = np.array([EXPECTED_STRENGTH_SD, *(shape.sd for shape in family.shapes)])
    usual_sd = np.array([between, *(shape.between_sd for shape in family.shapes)])
    p = family.n_parameters
    return Component(
        family=family,
        weight=1.0,
        held_out_score=float("nan"),
        reference_h=_TWENTY_EIGHT_DAYS_H,
        mean=centre + sd * generator.standard_normal((N_CHAINS, p)),
        root=covariance_root(draw_precision_root(np.zeros((N_CHAINS, 0, p)), usual_sd, generator)),
        known_h=np.empty(0),
        mix_departure=np.empty((N_CHAINS, 0)),
        mix_size=_sizes(MIX_SIZES, MIX_FALL, generator),
        batch_size=_sizes(BATCH_SIZES, BATCH_FALL, generator),
    )


def _sizes(sizes: FloatArray, fall: float, generator: np.random.Generator) -> FloatArray:
    share = np.exp(-sizes / fall)
    return np.asarray(generator.choice(sizes, N_CHAINS, p=share / share.sum()))


def _middle(settings: Settings) -> MaturitySetting:
    grid = settings.maturity
    if grid.equivalent_age_q_k:
        middle = sorted(grid.equivalent_age_q_k)[len(grid.equivalent_age_q_k) // 2]
        return MaturitySetting("equivalent age", middle, grid.reference_c)
    if grid.datum_c:
        return MaturitySetting("temperature-time", sorted(grid.datum_c)[len(grid.datum_c) // 2], grid.reference_c)
    return MaturitySetting("equivalent age", 5000.0, grid.reference_c)


def _problems(law: Law, settings: Settings) -> list[Problem]:
    problems = []
    if settings.prior.strength_28d_mpa is None:
        problems.append(
            Problem("plan", "Published growth needs the expected 28 d strength.", column="prior.strength_28d_mpa")
        )
    if settings.site_temperature_c is not None and law.temperature_c is None:
        problems.append(
            Problem(
                "plan",
                f'"{law.name}" has no site temperatures: {law.temperature_source}. Leave the range out.',
                column="site.mean_concrete_temperature_c",
            )
        )
    return problems
