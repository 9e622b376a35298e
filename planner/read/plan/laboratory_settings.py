"""The tables of a plan about the work around the breaks: programme, prices, laboratory."""

from __future__ import annotations

from planner.read.plan.plan_tables import BudgetTable
from planner.read.plan.programme_tables import CostsTable, LaboratoryTable, ProgrammeTable
from planner.terms.plan.settings import BETWEEN_CASTINGS_H, Budget, Costs, Laboratory, ProgrammeSettings


def programme_from(table: ProgrammeTable | None) -> ProgrammeSettings | None:
    """Say what a calibration needs beyond its schedule."""
    if table is None:
        return None
    return ProgrammeSettings(
        instrumented=table.instrumented,
        spares=table.spares,
        companions_per_check=table.companions_per_check,
        n_checks=table.checks,
        trial_batches=max(1, table.trial_batches[0]),
        most_trial_batches=max(1, table.trial_batches[1]),
        relies_on_records=table.trial_batches[1] == 0,
    )


def budget_from(table: BudgetTable, programme: ProgrammeSettings | None) -> Budget:
    """What may be spent; a date for the curve limits the last break as well."""
    latest_h = table.latest_age
    if table.ready_by is not None:
        fewest = programme.trial_batches if programme else 1
        ready_h = table.ready_by - BETWEEN_CASTINGS_H * (max(fewest, 1) - 1)
        latest_h = ready_h if latest_h is None else min(latest_h, ready_h)
    return Budget(
        specimens=table.specimens,
        latest_age_h=latest_h,
        ready_by_h=table.ready_by,
        latest_age_asked_h=table.latest_age,
        cost=table.cost,
    )


def costs_from(table: CostsTable | None) -> Costs | None:
    """Put the prices together; an item left out costs nothing."""
    if table is None:
        return None
    return Costs(
        currency=table.currency,
        specimen=table.specimen,
        preparation=table.preparation,
        break_one=table.break_one,
        visit=table.visit,
        visit_outside_hours=table.visit_outside_hours,
        instrumented=table.instrumented,
        fixed=table.fixed,
        casting=table.casting,
        casting_outside_hours=table.casting_outside_hours,
        pour_break=table.pour_break,
        check_visit=table.check_visit,
        contingency=table.contingency,
        other=table.other,
    )


def laboratory_from(table: LaboratoryTable | None) -> Laboratory | None:
    """Put the laboratory together; without opening hours it never closes."""
    if table is None:
        return None
    opens, closes = table.open
    return Laboratory(
        opens=opens,
        closes=closes,
        days=table.days,
        closed=table.closed,
        time_zone=table.time_zone,
        age_tolerances=table.age_tolerances or Laboratory().age_tolerances,
        minutes_per_break=table.minutes_per_break or Laboratory().minutes_per_break,
        is_break_time_stated=table.minutes_per_break is not None,
        machines=table.machines,
        machine_kn=table.machine_kn,
        form_removal_h=table.form_removal,
        casting_hours=table.casting_hours,
    )
