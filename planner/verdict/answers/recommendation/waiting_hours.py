"""When strengths that the site waits for will be there, from the mean curve of the earlier batches."""

from __future__ import annotations

from importlib import metadata

import numpy as np

from planner.evidence import Cells
from planner.evidence.reached_strength import interpolation_error, reach
from planner.issued_curve.calibration.batch_fit import issued_batch
from planner.issued_curve.calibration.issued import IssuedCurve, Promise
from planner.issued_curve.calibration.readings import decision_temperatures, hours_of
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest
from planner.terms.results.waiting import GrowthAt, HoursAt, Wait, Waiting
from planner.verdict.answers.maturity_constants.recommended_fits import recommended_fits
from planner.verdict.answers.recommendation.applicability import valid_for
from planner.verdict.selection.search import Search

N_DRAWN = 60  # points of a line in the picture
BEYOND, N_CALLED = 8.0, 4000  # how far beyond the break ages a curve may call a strength, and in how many steps
STEP = 1e-4  # relative, of the maturity over which the growth rate is taken


def waiting(search: Search, recommended: RatedChoice, honest: Honest) -> Waiting | None:
    """Hours to every strength of the plan, and the error in hours; None where the plan waits for none.

    On the own batch an error of the reading is worth so many hours as the concrete needs to grow by it, ``e f / S'(M)``
    with S' the growth rate where the batch reaches f, its square averaged over batches; to first order in e. Errors on
    later pours are too large for that: what one of them is worth is told by the pairs of earlier batches, as the RMS
    of hours between where one batch's curve reads f and where the other reaches it, over the RMS of the errors there.
    """
    plan = search.plan
    waits = [
        (at, age_h, strength_mpa)
        for at, (age_h, strength_mpa) in enumerate(
            zip(plan.settings.target.ages_h, plan.settings.target.waits_mpa, strict=True)
        )
        if strength_mpa is not None
    ]
    curve = _mean_curve(search, recommended, honest) if waits else None
    if curve is None:
        return None
    return Waiting(
        waits=tuple(_wait(search, honest, curve, at, age_h, strength_mpa) for at, age_h, strength_mpa in waits),
        reference_c=curve.maturity.reference_c,
        n_curves=len(curve.batches),
        safe_factor=curve.promise.safe_factor,
        assurance=curve.promise.assurance,
        growth=tuple(_growth(curve, temperature_c) for temperature_c in decision_temperatures(curve)),
    )


def _growth(curve: IssuedCurve, temperature_c: float) -> GrowthAt:
    maturity_h = np.geomspace(*curve.span_h, N_DRAWN)
    strength_mpa = curve.strength(maturity_h)
    hours = [curve.hours_at(float(one), temperature_c) for one in maturity_h]
    return GrowthAt(
        temperature_c=temperature_c,
        points=tuple(
            (hour, strength) for hour, strength in zip(hours, strength_mpa.tolist(), strict=True) if np.isfinite(hour)
        ),
    )


def _wait(search: Search, honest: Honest, curve: IssuedCurve, at: int, age_h: float, strength_mpa: float) -> Wait:
    plan = search.plan
    judging = {search.cells.views.batch[view] for view in search.cells.checks.view}
    absent = [batch for batch in plan.records.batches if batch not in judging]
    reaching = set(reach(plan.records, strength_mpa).reaching)
    worth_h, worth_later_h = _hours_per_share(search.cells, curve, at), _hours_per_share_later(search.cells, curve, at)
    verdict = honest.per_target[at] if honest.per_target else None
    own, later = (None, None) if verdict is None else (verdict.nested_rms, verdict.next_batch_rms)
    return Wait(
        strength_mpa=strength_mpa,
        age_h=age_h,
        n_batches=len(judging),
        left_out=tuple(batch for batch in absent if batch not in reaching),
        left_out_elsewhere=tuple(batch for batch in absent if batch in reaching),
        interpolation_rms=interpolation_error(plan.records, strength_mpa),
        own_rms_h=None if own is None or worth_h is None else own * worth_h,
        later_rms_h=None if later is None or worth_later_h is None else later * worth_later_h,
        hours=tuple(
            HoursAt(
                temperature_c=row.temperature_c,
                earliest_h=row.earliest_h,
                likely_h=row.likely_h,
                safe_h=row.safe_h,
            )
            for row in hours_of(curve, (strength_mpa,), decision_temperatures(curve))
        ),
    )


def _hours_per_share(cells: Cells, curve: IssuedCurve, at: int) -> float | None:
    """Hours at the reference temperature that a relative error of 1 is worth: RMS over checks; None if unknown.

    The growth rate is that of the batch's own curve where the batch was that strong.
    """
    setting = cells.settings.index(curve.maturity)
    fitted = {item.batch for item in curve.batches}
    squares, weights = [], []
    for k in np.flatnonzero(cells.checks.target == at):
        batch = cells.views.batch[cells.checks.view[k]]
        if batch not in fitted:
            continue
        maturity_h = float(cells.checks.maturity_h[setting, k])
        around = curve.of_batch(batch).strength(maturity_h * np.array([1.0 - STEP, 1.0 + STEP]))
        rate = float(around[1] - around[0]) / (2.0 * STEP * maturity_h)
        if rate > 0:
            squares.append((float(cells.checks.truth_mpa[k]) / rate) ** 2)
            weights.append(float(cells.checks.weight[k]))
    return float(np.sqrt(np.average(squares, weights=weights))) if squares else None


def _hours_per_share_later(cells: Cells, curve: IssuedCurve, at: int) -> float | None:
    """The same for the curve of one batch read on another of its mix, no growth taken as straight; None if unknown."""
    setting, strength_mpa = cells.settings.index(curve.maturity), cells.target_waits_mpa[at]
    mixes = dict(zip(cells.views.batch, cells.views.mix, strict=True))
    maturity_h = np.geomspace(curve.span_h[0] / BEYOND, curve.span_h[1] * BEYOND, N_CALLED)
    curves = {item.batch: curve.of_batch(item.batch).strength(maturity_h) for item in curve.batches}
    hours, shares, weights = [], [], []
    for k in np.flatnonzero(cells.checks.target == at):
        batch, there_h = cells.views.batch[cells.checks.view[k]], float(cells.checks.maturity_h[setting, k])
        for other, strengths in curves.items():
            if other == batch or mixes.get(other) != mixes[batch] or strength_mpa is None:
                continue
            called_h = np.exp(np.interp(strength_mpa, np.maximum.accumulate(strengths), np.log(maturity_h)))
            hours.append(float(called_h) - there_h)
            shares.append(float(np.interp(np.log(there_h), np.log(maturity_h), strengths)) / strength_mpa - 1.0)
            weights.append(float(cells.checks.weight[k]))
    squares = [np.average(np.square(found), weights=weights) for found in (hours, shares)] if hours else [0.0, 0.0]
    return float(np.sqrt(squares[0] / squares[1])) if squares[1] > 0 else None


def _mean_curve(search: Search, choice: RatedChoice, honest: Honest) -> IssuedCurve | None:
    """The mean of the recommended curve fitted to each earlier batch at the recommended ages; None without one."""
    plan, concrete = search.plan, valid_for(search, choice)
    fits = recommended_fits(search, choice.schedule, choice)
    if not fits:
        return None
    first_h = max(float(fit.means.maturity_h[0]) for fit in fits)
    last_h = min(float(fit.means.maturity_h[-1]) for fit in fits)
    if not first_h < last_h:
        return None
    later = honest.next_batch
    return IssuedCurve(
        number=1,
        supersedes=None,
        title=plan.settings.title,
        mix=concrete.mix,
        geometry=concrete.geometry,
        property=concrete.property,
        curve=choice.curve,
        weighting=choice.weighting,
        maturity=choice.maturity,
        batches=tuple(issued_batch(fit) for fit in fits),
        basis="trial",
        is_calibrated=True,
        span_h=(first_h, last_h),
        temperature_c=plan.settings.site_temperature_c,
        standard_c=plan.settings.prior.standard_curing_c,
        target_ages_h=plan.settings.target.ages_h,
        promise=Promise(
            own_rms=None,
            later_rms=None if later is None else later.rms,
            within_test_cv=float(np.mean(search.cells.cv)),
            companions_per_check=0,
            safe_factor=honest.safe_reading_factor,
            n_batches=len(plan.records.batches),
            tolerance=plan.settings.target.tolerance,
            assurance=plan.settings.target.assurance,
        ),
        inputs=plan.inputs,
        version=metadata.version("test-age-planner"),
        age_zero=plan.records.age_zero,
    )
