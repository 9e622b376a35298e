"""Values of a plan that may be meant but are more often slips: cautioned with the edit that would put them right."""

from __future__ import annotations

import datetime as dt

from planner.read.plan.doubts.price_doubts import price_doubts
from planner.terms.labels import age_label, percent
from planner.terms.plan.settings import Laboratory, Settings
from planner.terms.problems import Caution

# Bounds below: common practice, no source.
WIDEST_TOLERANCE = 0.30
LATEST_SET_H = 24.0
WIDEST_SCATTER, LEAST_SCATTER = 0.15, 0.005
WIDEST_BATCHES, LEAST_BATCHES = 0.30, 0.01
LONGEST_DAY_H = 16.0
LATEST_FORMS_H = 168.0
MOST_SPARES = 1.0
LONGEST_GAP_H = 24.0
STRONGEST_TO_BREAK_MPA = 10.0
MOST_SENSORS, MOST_COMPANIONS = 6, 12
FASTEST_MIN, SLOWEST_MIN = 1.0, 60.0
EARLIEST_YEAR = 2000
MOST_TIMES_OVER = 5.0  # more specimens than the largest programme of the plan can have: a nought too many


def plan_doubts(file: str, settings: Settings) -> tuple[Caution, ...]:
    """What a careful reader of the plan would ask about."""
    texts = [
        *_of_figures(settings),
        *_of_choices(settings),
        *_of_laboratory(settings.laboratory),
        *_of_prices(settings),
    ]
    return tuple(Caution("plan-value", f"{file}, {text}") for text in texts)


def _of_figures(settings: Settings) -> list[str]:
    target, prior = settings.target, settings.prior
    texts = []
    if target.tolerance > WIDEST_TOLERANCE:
        texts.append(
            f"target.tolerance: {percent(target.tolerance, digits=0)} off either way is more than any reading may be. "
            "Was the assurance meant? Then exchange the two."
        )
    if settings.final_set_h > LATEST_SET_H:
        texts.append(
            f"mix.final_set_h: final set after {settings.final_set_h:g} h. Are these minutes? Then write "
            f"{settings.final_set_h / 60.0:.3g}."
        )
    scatter = [cv for _, cv in prior.within_test_cv_by_age]
    scatter += [] if prior.within_test_cv is None else [prior.within_test_cv]
    texts += [
        f"prior.within_test_cv: replicates of one batch scatter by 1 to 10 %, given {percent(cv, digits=2)}. Correct "
        "the decimal point, or leave the key out where the records hold replicates."
        for cv in scatter
        if not LEAST_SCATTER <= cv <= WIDEST_SCATTER
    ]
    between = prior.between_batch_cv
    if between is not None and not LEAST_BATCHES <= between <= WIDEST_BATCHES:
        texts.append(
            f"prior.between_batch_cv: batches of one mix differ by 3 to 15 %, given {percent(between, digits=2)}. "
            "Correct the decimal point."
        )
    spares = settings.programme_asked.spares
    if spares > MOST_SPARES:
        texts.append(
            f'programme.spares: {spares:g} spares to every specimen. Was "{spares:g} %" meant? Then write that.'
        )
    return texts


def _of_choices(settings: Settings) -> list[str]:
    choices, budget, programme = settings.choices, settings.budget, settings.programme_asked
    latest_h = budget.latest_age_h if budget.ready_by_h is None else budget.latest_age_asked_h
    texts = []
    late = [age_label(age) for age in choices.ages_h if latest_h is not None and age > latest_h]
    if late and latest_h is not None:
        texts.append(
            f"budget.latest_age: {age_label(latest_h)} leaves out {', '.join(late)} of the ages offered. Correct its "
            "unit if that is not meant."
        )
    unset = [age_label(age) for age in settings.target.ages_h if age < settings.final_set_h]
    if unset:
        texts.append(
            f"mix.final_set_h: the target {', '.join(unset)} comes before final set at {settings.final_set_h:g} h, "
            "when there is no strength to read. Correct one of the two."
        )
    if choices.minimum_gap_h >= LONGEST_GAP_H:
        texts.append(
            f"choices.minimum_gap: breaks at least {age_label(choices.minimum_gap_h)} apart leave one for a day. Were "
            f'hours meant? Then write "{choices.minimum_gap_h / 24.0:g} h".'
        )
    if choices.least_strength_mpa > STRONGEST_TO_BREAK_MPA:
        texts.append(
            f"choices.least_strength_mpa: specimens weaker than {choices.least_strength_mpa:g} MPa count as too weak "
            "to be broken, and usual are 1 to 5 MPa. State what the testing machine can measure."
        )
    most_each = min(choices.most_ages, len(choices.ages_h)) * choices.specimens_per_age[1]
    largest = most_each * programme.allowed_trial_batches[-1]
    if budget.specimens > MOST_TIMES_OVER * largest:
        texts.append(
            f"budget.specimens: {budget.specimens}, where the largest programme that the plan allows has {largest}. "
            "Correct it where noughts are too many, or it limits nothing."
        )
    if programme.instrumented > MOST_SENSORS:
        texts.append(
            f"programme.instrumented: {programme.instrumented} specimens with sensors in each trial batch; 2 are usual."
        )
    if programme.companions_per_check > MOST_COMPANIONS:
        texts.append(
            f"programme.companions_per_check: {programme.companions_per_check} companions for each check; 3 are usual."
        )
    return texts


def _of_laboratory(laboratory: Laboratory | None) -> list[str]:
    if laboratory is None:
        return []
    texts = []
    opens, closes = (dt.timedelta(hours=at.hour, minutes=at.minute) for at in (laboratory.opens, laboratory.closes))
    open_h = (closes - opens) % dt.timedelta(days=1) / dt.timedelta(hours=1)
    if open_h > LONGEST_DAY_H:
        texts.append(
            f"laboratory.open: open for {open_h:g} hours a day, {laboratory.opens:%H:%M} to {laboratory.closes:%H:%M}. "
            'Write hours of the afternoon like "17:00", or "round the clock".'
        )
    if not FASTEST_MIN <= laboratory.minutes_per_break <= SLOWEST_MIN:
        texts.append(
            f"laboratory.minutes_per_break: {laboratory.minutes_per_break:g} minutes for a break; 3 to 15 are usual. "
            "Correct it where hours or seconds were meant."
        )
    past = sorted(day for day in laboratory.closed if day.year < EARLIEST_YEAR)
    if past:
        texts.append(f"laboratory.closed: {past[0]:%Y-%m-%d} lies in the past. Correct the year.")
    removal_h = laboratory.form_removal_h
    if removal_h is not None and removal_h > LATEST_FORMS_H:
        texts.append(
            f"laboratory.form_removal: forms stay on for {age_label(removal_h)}. Were hours meant? Then write "
            f'"{removal_h / 24.0:g} h".'
        )
    return texts


def _of_prices(settings: Settings) -> list[str]:
    costs = settings.costs
    if costs is None:
        return []
    pairs = (
        ("visit", costs.visit, costs.visit_outside_hours or None),
        ("casting", costs.casting, costs.casting_outside_hours),
    )
    ends = []
    if costs.preparation and not costs.are_ends_prepared:
        ends.append(
            f"costs.preparation: cubes are broken on moulded faces and need no ground or capped ends (EN 12390-3, from "
            f"memory), but {costs.preparation:g} {costs.currency} for each is stated and priced. Leave it out where "
            "nothing is done."
        )
    return [*ends, *price_doubts(costs)] + [
        f"costs.{name}_outside_hours: {outside:g} {costs.currency}, less than inside hours ({inside:g}). Exchange the "
        "two where they are turned round."
        for name, inside, outside in pairs
        if outside is not None and outside < inside
    ]
