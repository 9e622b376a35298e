"""What the best programme of one geometry asks for, counted and priced as its estimate would."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.geometry_choice.error_of_parts import is_measured
from planner.laboratory.costs.estimate import estimate
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.geometry.geometry_options import ErrorParts, GeometryFigures
from planner.terms.results.programme_figures import Programme
from planner.verdict.selection.search import Search


def priced_option(search: Search, kind: SpecimenKind, programme: Programme, error: ErrorParts) -> GeometryFigures:
    """Put figures to one geometry that was searched."""
    settings, cells, number = search.plan.settings, search.cells, programme.n_trial_batches
    assert search.chosen is not None
    assert search.programmes is not None
    at = [int(abs(cells.ages_h - age).argmin()) for age in programme.schedule.ages_h]
    priced = estimate(
        ChoiceRole.RECOMMENDED,
        programme.schedule,
        programme=replace(settings.programme_asked, trial_batches=number, most_trial_batches=None),
        costs=settings.costs,
        laboratory=settings.laboratory,
        within_test_cv=tuple(float(cells.cv[place]) for place in at),
        windows=settings.castings,
        geometry=kind.geometry,
        targets_h=settings.target.ages_h,
    )
    count = priced.count
    n_measured = len(np.unique(cells.check_unit[is_measured(cells, error.not_credited)]))
    column = search.programmes.everything.trial_batches.index(number)
    return GeometryFigures(
        geometry=kind.geometry,
        programme=programme,
        error=error,
        within_tolerance=float(search.programmes.everything.within_tolerance[search.chosen.taken.which, column]),
        n_units=cells.n_units,
        n_measured=n_measured,
        within_test_cv=cells.scatter.pooled_cv,
        cost=priced.total,
        preparation_cost=None if settings.costs is None else settings.costs.preparation * count.n_of_curve,
        n_made=count.n_of_curve,
        machine_minutes=settings.laboratory_taken.minutes_per_break * count.n_schedule,
        n_visits=priced.n_visits * number,
        n_moulds=count.n_moulds,
        litres=count.litres,
    )
