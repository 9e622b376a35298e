"""The plan as if one geometry were all there is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.conversion import Conversion, converted_records
from planner.conversion.converted_records import records_of, shared_departure
from planner.conversion.stated_conversions import conversion_for
from planner.evidence.within_test_scatter import within_test_scatter
from planner.laboratory.costs.estimate import litres_of_one
from planner.terms.plan.geometry import are_ends_prepared
from planner.terms.plan.settings import Costs, Laboratory, Plan, Prior, Settings
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.results.geometry.geometry_options import GeometryAnswer


def plan_of(plan: Plan, kind: SpecimenKind, conversion: Conversion | None, *, not_credited: float = 0.0) -> Plan:
    """The plan as if one geometry were all there is: its breaks converted, its own prices and minutes.

    Parameters
    ----------
    not_credited
        Variance, relative, by which every measured truth is spread, see :func:`planner.conversion.converted_records`.
    """
    settings, alone = plan.settings, _alone(plan.settings, kind)
    if conversion is None:
        records = records_of(plan.records, kind.geometry)
    else:
        truth_cv = _truth_scatter(plan, conversion.to_geometry)
        alone = replace(alone, prior=replace(alone.prior, truth_cv_by_age=truth_cv))
        common = max(shared_departure(plan.records, conversion, target_age_h=age) for age in settings.target.ages_h)
        records = converted_records(plan.records, conversion, common=common, not_credited=not_credited)
    return replace(plan, settings=alone, records=records)


def settings_of(settings: Settings, answer: GeometryAnswer | None) -> Settings:
    """The plan's settings with prices, scatter and minutes of the recommended geometry; as given where none was chosen.

    Whatever is written after the choice (dates, workbook, calendar) counts with these.
    """
    if answer is None:
        return settings
    kind = next(kind for kind in settings.specimens if kind.geometry == answer.recommended.geometry)
    return _alone(settings, kind)


def _alone(settings: Settings, kind: SpecimenKind) -> Settings:
    prior = replace(settings.prior, geometry=kind.geometry)
    if kind.within_test_cv is not None:
        prior = replace(prior, within_test_cv=kind.within_test_cv, within_test_cv_by_age=())
    return replace(
        settings, specimens=(), prior=prior, costs=_costs(settings, kind), laboratory=_laboratory(settings, kind)
    )


def as_cast(plan: Plan, answer: GeometryAnswer | None) -> Plan:
    """The plan of the geometry that an answer recommends; a plan that lists none is handed back as it is."""
    if answer is None:
        return plan
    kind = next(one for one in plan.settings.specimens if one.geometry == answer.recommended.geometry)
    is_same = kind.geometry == plan.settings.target.geometry
    conversion = None if is_same else conversion_for(plan.records, plan.settings, kind)
    error = answer.recommended.error
    return plan_of(plan, kind, conversion, not_credited=0.0 if error is None else error.not_credited)


def _truth_scatter(plan: Plan, geometry: str) -> tuple[tuple[float, float], ...]:
    """Scatter of the target's geometry at every target, from all its specimens: few of them are truths."""
    stated = {one.geometry: one.within_test_cv for one in plan.settings.specimens}.get(geometry)
    scatter = within_test_scatter(records_of(plan.records, geometry).breaks, Prior(within_test_cv=stated))
    ages_h = plan.settings.target.ages_h
    return tuple(zip(ages_h, scatter.cv_at(np.array(ages_h)).tolist(), strict=True))


def _costs(settings: Settings, kind: SpecimenKind) -> Costs | None:
    if settings.costs is None:
        return None
    stated = {key: getattr(kind, key) for key in ("specimen", "preparation", "break_one")}
    return replace(
        settings.costs,
        litres_each=litres_of_one(kind.geometry),
        are_ends_prepared=are_ends_prepared(kind.geometry),
        **{key: value for key, value in stated.items() if value is not None},
    )


def _laboratory(settings: Settings, kind: SpecimenKind) -> Laboratory | None:
    if kind.minutes_per_break is None:
        return settings.laboratory
    return replace(settings.laboratory_taken, minutes_per_break=kind.minutes_per_break, is_break_time_stated=True)
