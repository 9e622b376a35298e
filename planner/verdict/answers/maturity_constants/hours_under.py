"""What the choice of the constant makes of the hours: under the recommended one and the ends of what is as good."""

from __future__ import annotations

import numpy as np

from planner.curves.reached_maturity import reached_maturity
from planner.evidence import Cells
from planner.issued_curve.calibration.readings import planning_temperatures
from planner.maturity.break_maturity import rate
from planner.resampling import Joint
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.results.constants import HoursUnder
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.maturity_constants.recommended_fits import recommended_fits
from planner.verdict.selection.search import Search


def hours_under(
    search: Search, cells: Cells, recommended: RatedChoice, settings: tuple[MaturitySetting, ...]
) -> tuple[HoursUnder, ...]:
    """A row for each target and temperature.

    An age that is read stands for its maturity at the reference temperature under every constant. A strength that is
    waited for is there when the mean curve of the earlier batches, fitted anew under each constant, reads it.

    Parameters
    ----------
    cells
        They hold every maturity setting asked for.
    settings
        With the least constant, the recommended and the greatest.
    """
    target = search.plan.settings.target
    reached = [_maturities(search, cells, recommended, setting) for setting in settings]
    rows = []
    for at, age_h in enumerate(target.ages_h):
        for temperature_c in planning_temperatures(search.plan.settings.site_temperature_c):
            lowest, chosen, highest = (
                _hours(maturities_h[at], temperature_c, setting)
                for maturities_h, setting in zip(reached, settings, strict=True)
            )
            rows.append(
                HoursUnder(
                    age_h=age_h, temperature_c=temperature_c, lowest_h=lowest, chosen_h=chosen, highest_h=highest
                )
            )
    return tuple(rows)


def _maturities(
    search: Search, cells: Cells, recommended: RatedChoice, setting: MaturitySetting
) -> tuple[float | None, ...]:
    """Maturity [h] that each target asks for; None: outside the recommended break ages."""
    target = search.plan.settings.target
    if not target.strengths_mpa:
        return target.ages_h
    joint = Joint(recommended.curve, recommended.weighting, cells.settings.index(setting), setting)
    fits = recommended_fits(search, recommended.schedule, joint, cells=cells)
    first_h = max((float(fit.means.maturity_h[0]) for fit in fits), default=0.0)
    last_h = min((float(fit.means.maturity_h[-1]) for fit in fits), default=0.0)

    def strength_of(maturity_h: FloatArray) -> FloatArray:
        return np.asarray(np.mean([fit.fit.predict(maturity_h) for fit in fits], axis=0))

    def of(age_h: float, strength_mpa: float | None) -> float | None:
        if strength_mpa is None:
            return age_h
        return reached_maturity(strength_of, (first_h, last_h), strength_mpa) if 0.0 < first_h < last_h else None

    return tuple(of(*one) for one in zip(target.ages_h, target.waits_mpa, strict=True))


def _hours(maturity_h: float | None, temperature_c: float, setting: MaturitySetting) -> float | None:
    gained = float(rate(np.array(temperature_c), setting))
    return maturity_h / gained if maturity_h is not None and gained > 0 else None
