"""Checks of later pours and acceptance of the calibration, as the advice announces them before anything is cast.

The rules, their chances and their wording are those of :mod:`planner.issued_curve`: what is announced is what the
issued curve is judged by.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.issued_curve.calibration.issued import without_part
from planner.issued_curve.rules.acceptance import sound_refused_at_most, z_limit
from planner.issued_curve.rules.alarm_chances import alarm_chances, checks_to_find, shared_part
from planner.issued_curve.rules.companions import comparison_sd
from planner.issued_curve.rules.customary_rule import customary_rule
from planner.issued_curve.rules.rule_words import (
    NO_LIMITS,
    acceptance_words,
    alarm_words,
    customary_words,
    lasting_words,
    tonight_words,
)
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.results.programme_count import SiteChecks
from planner.terms.results.recommended.validation_figures import Honest
from planner.verdict.selection.search import Search


def announced_checks(search: Search, honest: Honest) -> SiteChecks | None:
    """How calibration and later pours are checked; None where nothing is known of the error."""
    if honest.own_batch is None:
        return None
    settings, later = search.plan.settings, honest.next_batch
    programme = settings.programme_asked
    later_rms = None
    if later is not None:
        by_number = later.rms_by_trial_batches
        later_rms = by_number[min(max(1, search.n_trial_batches), len(by_number)) - 1] if by_number else later.rms
    own_rms, answer = honest.own_batch.nested_rms, search.geometries
    conversion = None if answer is None else answer.curve_conversion
    part = 0.0 if conversion is None else conversion.rms  # companions are of the geometry cast, converted alike
    return site_checks(
        own_rms=without_part(own_rms, part) or own_rms,
        later_rms=without_part(later_rms, part),
        within_test_cv=float(np.mean(search.cells.checks.cv)),
        n_targets=len(settings.target.ages_h),
        tolerance=settings.target.tolerance,
        programme=replace(programme, trial_batches=max(1, search.n_trial_batches)),
    )


def site_checks(
    *,
    own_rms: float,
    later_rms: float | None,
    within_test_cv: float,
    n_targets: int,
    tolerance: float,
    programme: ProgrammeSettings,
) -> SiteChecks:
    """Announce the rules with their figures.

    Parameters
    ----------
    own_rms
        RMS error on the own batch, nested: calibrations are accepted by it.
    later_rms
        RMS error on a later pour; None where it is not known, and then checks have no limits.
    within_test_cv
        Scatter of companions at the target ages, relative.
    n_targets
        Targets at which companions of the trial batch are broken, in one place each.
    tolerance
        Of the plan, relative.
    programme
        Companions for one check, checks foreseen, trial batches; two companions where it names none.
    """
    companions = programme.companions_taken
    acceptance = acceptance_words(
        tolerance=tolerance,
        n_groups=n_targets,
        z_limit=z_limit(n_targets),
        own_rms=own_rms,
        sound_refused_at_most=sound_refused_at_most(
            own_rms=own_rms, scatter=within_test_cv**2 / companions / n_targets, tolerance=tolerance
        ),
    )
    if later_rms is None:
        return SiteChecks(
            companions_per_check=companions,
            n_checks=programme.n_checks,
            n_checks_to_notice=None,
            scatter=None,
            chance_of_false_alarm=None,
            chance_of_alarm=(),
            rule=NO_LIMITS,
            acceptance=acceptance,
        )
    sd = comparison_sd(reading_rms=later_rms, within_test_cv=within_test_cv, n_specimens=companions)
    n_curves = max(1, programme.trial_batches)
    chances = alarm_chances(
        shared=shared_part(
            later_rms=later_rms, n_curves=n_curves, within_test_cv=within_test_cv, n_companions=companions
        )
    )
    customary = customary_rule(sd)
    return SiteChecks(
        companions_per_check=companions,
        n_checks=programme.n_checks,
        n_checks_to_notice=checks_to_find(tolerance / sd),
        scatter=sd,
        chance_of_false_alarm=customary.false_alarm,
        chance_of_alarm=tuple(zip(chances.n_checks, chances.sound, strict=True)),
        rule=" ".join(
            (
                f"Tonight: {tonight_words(sd=sd)}",
                f"Lasting: {lasting_words(sd=sd)}",
                alarm_words(chances, n_curves=n_curves),
                customary_words(customary),
            )
        ),
        acceptance=acceptance,
    )
