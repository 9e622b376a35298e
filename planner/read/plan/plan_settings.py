"""The tables of a plan into settings: keys checked against each other, defaults filled in."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from planner.curves.fitted_strength import fewest_ages_of
from planner.read.parsing.findings import Findings
from planner.read.parsing.schedule_text import schedule_from
from planner.read.plan.laboratory_settings import budget_from, costs_from, laboratory_from, programme_from
from planner.read.plan.plan_file import RawPlan
from planner.read.plan.plan_table import PlanTable
from planner.read.plan.plan_tables import (
    BudgetTable,
    ChoicesTable,
    CompareTable,
    CurvesTable,
    MaturityTable,
    MixTable,
    OutputTable,
    PriorTable,
    SiteTable,
    TargetTable,
)
from planner.read.plan.pours_settings import pours_from
from planner.read.plan.programme_tables import CostsTable, LaboratoryTable, PoursTable, ProgrammeTable
from planner.read.plan.specimen_settings import specimens_from, target_geometry
from planner.read.plan.target_settings import target_from
from planner.terms.labels import age_label, ages_words, listed
from planner.terms.plan.settings import ChoiceLimits, CurveName, MaturityGrid, Prior, Settings, Target
from planner.terms.problems import InputError
from planner.terms.records import Records
from planner.terms.schedule import Schedule

LEAST_Q_K, MOST_Q_K = 500.0, 20_000.0
LEAST_DATUM_C = -50.0
GAS_J_PER_MOL_K = 8.314462618  # CODATA 2018
PlanTableType = TypeVar("PlanTableType", bound=PlanTable)


def build_settings(file: str, plan: RawPlan, findings: Findings, records: Records | None) -> Settings | None:
    """Put the settings together; None, with the reasons in the findings, where the plan has faults.

    Parameters
    ----------
    records
        They tell when a strength that is waited for is reached; None where they have faults of their own.
    """
    n_before = len(findings.problems)
    target = target_from(file, _get(plan, "target", TargetTable), records, findings)
    choices = _choices(file, _get(plan, "choices", ChoicesTable), findings)
    curves = (_get(plan, "curves", CurvesTable) or CurvesTable()).families
    if choices is not None:
        _check_enough_ages(file, choices, curves, findings)
    prior = _prior(file, _get(plan, "prior", PriorTable), findings)
    maturity = _maturity(file, plan, findings)
    compare = _compare(file, plan, findings)
    budget = _get(plan, "budget", BudgetTable)
    _check_costs(file, plan, findings)
    specimens = specimens_from(file, plan, findings)
    pours = None if target is None else pours_from(file, _get(plan, "pours", PoursTable), target, findings)
    if prior is not None and prior.published is not None and target is not None:
        _check_published(file, prior.published, target, findings)
    if len(findings.problems) > n_before or not (target and choices and prior and maturity and budget):
        return None
    mix = _get(plan, "mix", MixTable) or MixTable()
    programme = programme_from(_get(plan, "programme", ProgrammeTable))
    site = _get(plan, "site", SiteTable)
    return Settings(
        target=replace(target, geometry=target_geometry(plan)),
        choices=choices,
        budget=budget_from(budget, programme),
        prior=prior,
        maturity=maturity,
        curves=curves,
        compare=compare,
        title=plan.title,
        mix_name=mix.name,
        final_set_h=mix.final_set_h,
        aggregate_mm=mix.aggregate_mm,
        fibre_mm=mix.fibre_mm,
        site_temperature_c=site.mean_concrete_temperature_c if site else None,
        programme=programme,
        costs=costs_from(_get(plan, "costs", CostsTable)),
        output_units=output.units if (output := _get(plan, "output", OutputTable)) else "SI",
        laboratory=laboratory_from(_get(plan, "laboratory", LaboratoryTable)),
        specimens=specimens,
        pours=pours,
    )


def _check_enough_ages(file: str, choices: ChoiceLimits, curves: tuple[CurveName, ...], findings: Findings) -> None:
    """Some curve of the plan must be one that so few ages can be fitted by."""
    needed = min(fewest_ages_of(curve) for curve in curves)
    if choices.most_ages < needed:
        findings.problem(
            file,
            f"No curve of the plan can be fitted to {ages_words(choices.most_ages)}: they need {needed}. Raise "
            'most_ages, or add "population prior" or "shape prior" to [curves] families, which read from one age on.',
            column="choices.most_ages",
        )


def _get(plan: RawPlan, name: str, kind: type[PlanTableType]) -> PlanTableType | None:
    table = plan.tables.get(name)
    return table if isinstance(table, kind) else None


def _choices(file: str, table: ChoicesTable | None, findings: Findings) -> ChoiceLimits | None:
    if table is None:
        return None
    n_before = len(findings.problems)
    ages_h = tuple(sorted(table.ages))
    required_h = tuple(sorted(table.required_ages or ()))
    absent = [age for age in required_h if age not in ages_h]
    if table.fewest_ages > table.most_ages:
        findings.problem(
            file,
            f"The fewest ages are {table.fewest_ages} but the most are {table.most_ages}. Exchange or correct them.",
            column="choices.fewest_ages",
        )
    elif table.fewest_ages > len(ages_h):
        findings.problem(
            file,
            f"The fewest ages are {table.fewest_ages} but only {len(ages_h)} ages are offered. "
            "Offer more, or ask fewer.",
            column="choices.fewest_ages",
        )
    if absent:
        findings.problem(
            file,
            f"{listed(age_label(age) for age in absent)} must be broken but is not among the ages offered "
            f"({listed(age_label(age) for age in ages_h)}). Add it to [choices] ages.",
            column="choices.required_ages",
        )
    if len(required_h) > table.most_ages:
        findings.problem(
            file,
            f"{len(required_h)} ages must be broken but the most ages are {table.most_ages}. "
            "Allow more, or require fewer.",
            column="choices.required_ages",
        )
    if len(findings.problems) > n_before:
        return None
    return ChoiceLimits(
        ages_h=ages_h,
        fewest_ages=table.fewest_ages,
        most_ages=table.most_ages,
        specimens_per_age=table.specimens_per_age,
        required_ages_h=required_h,
        minimum_gap_h=table.minimum_gap,
        least_strength_mpa=table.least_strength_mpa,
        most_visits=table.most_visits,
    )


def _prior(file: str, table: PriorTable | None, findings: Findings) -> Prior | None:
    if table is None:
        return None
    n_before = len(findings.problems)
    if table.breaks is None and table.published is None:
        findings.problem(file, "The key is missing. Give a break file, or published growth.", column="prior.breaks")
    if table.breaks is not None and table.published is not None:
        findings.problem(
            file,
            "Published growth serves only where there are no breaks. Leave out either breaks or published.",
            column="prior.published",
        )
    if table.published is not None and table.strength_28d_mpa is None:
        findings.problem(
            file,
            "Published growth needs the strength expected at 28 d. Give strength_28d_mpa.",
            column="prior.strength_28d_mpa",
        )
    if table.strength_28d_mpa is not None and table.published is None:
        findings.problem(file, "This key serves only with published. Leave it out.", column="prior.strength_28d_mpa")
    if table.temperatures is not None and table.breaks is None:
        findings.problem(
            file,
            "Temperature records serve breaks. Give breaks, or leave them out.",
            column="prior.temperatures",
        )
    if table.batches is not None and table.breaks is None:
        findings.problem(file, "Batches serve breaks. Give breaks, or leave them out.", column="prior.batches")
    if len(findings.problems) > n_before:
        return None
    scatter = table.within_test_cv
    return Prior(
        standard_curing_c=table.standard_curing_c,
        within_test_cv=None if isinstance(scatter, dict) else scatter,
        within_test_cv_by_age=tuple(sorted(scatter.items())) if isinstance(scatter, dict) else (),
        between_batch_cv=table.between_batch_cv,
        hold_out=table.hold_out,
        geometry=table.geometry,
        property=table.property.lower(),
        published=table.published,
        strength_28d_mpa=table.strength_28d_mpa,
    )


def _check_published(file: str, name: str, target: Target, findings: Findings) -> None:
    from planner.population.published_growth import published_law  # loads slowly; plans with breaks never need it

    try:
        published_law(name, target.ages_h)
    except InputError as error:
        findings.problems += [replace(problem, file=file) for problem in error.problems]


def _maturity(file: str, plan: RawPlan, findings: Findings) -> MaturityGrid | None:
    if "maturity" in plan.given and "maturity" not in plan.tables:
        return None
    table = _get(plan, "maturity", MaturityTable)
    if table is None:
        return MaturityGrid()
    n_before = len(findings.problems)
    default = MaturityGrid()
    # A plan that names one method only wants that method only.
    is_silent = table.equivalent_age_q_k is None and table.datum_c is None
    q_k = table.equivalent_age_q_k if not is_silent else default.equivalent_age_q_k
    datum_c = table.datum_c if not is_silent else default.datum_c
    q_k, datum_c = tuple(dict.fromkeys(q_k or ())), tuple(dict.fromkeys(datum_c or ()))
    wrong_q = [q for q in q_k if not LEAST_Q_K <= q <= MOST_Q_K]
    wrong_datum = [datum for datum in datum_c if not LEAST_DATUM_C <= datum < table.reference_c]
    if wrong_q:
        findings.problem(
            file,
            f"Given {listed(f'{q:g}' for q in wrong_q)}; Q is in kelvin, {LEAST_Q_K:g} to {MOST_Q_K:g}, about 5000."
            f"{_as_activation_energy(wrong_q)}",
            column="maturity.equivalent_age_q_k",
        )
    if wrong_datum:
        findings.problem(
            file,
            f"Given {listed(f'{datum:g}' for datum in wrong_datum)} C; a datum temperature lies from "
            f"{LEAST_DATUM_C:g} C to below the reference of {table.reference_c:g} C.",
            column="maturity.datum_c",
        )
    if not -20 <= table.reference_c <= 45:
        findings.problem(
            file,
            f"Given {table.reference_c:g}; the reference temperature lies within -20 and 45 C, most often at 20 C. "
            "Give it in degrees C.",
            column="maturity.reference_c",
        )
    if not q_k and not datum_c:
        findings.problem(file, "Both lists are empty. Give constants, or leave the table out.", column="maturity")
    if len(findings.problems) > n_before:
        return None
    return MaturityGrid(equivalent_age_q_k=q_k, datum_c=datum_c, reference_c=table.reference_c)


def _as_activation_energy(wrong_q: list[float]) -> str:
    """What the numbers would be in kelvin if they were activation energies."""
    for name, least, most, per_j in (("kJ/mol", 15.0, 150.0, 1000.0), ("J/mol", 15e3, 150e3, 1.0)):
        if all(least <= q <= most for q in wrong_q):
            return (
                f" Where they are activation energies in {name}, divide them by the gas constant: "
                f"{listed(f'{q * per_j / GAS_J_PER_MOL_K:.0f}' for q in wrong_q)}."
            )
    return ""


def _compare(file: str, plan: RawPlan, findings: Findings) -> tuple[Schedule, ...]:
    table = _get(plan, "compare", CompareTable)
    schedules: list[Schedule] = []
    for text in table.schedules if table else ():
        try:
            schedules.append(schedule_from(text))
        except ValueError as error:
            findings.problem(file, str(error), column="compare.schedules")
    return tuple(schedules)


def _check_costs(file: str, plan: RawPlan, findings: Findings) -> None:
    budget = _get(plan, "budget", BudgetTable)
    if budget is not None and budget.cost is not None and "costs" not in plan.given:
        findings.problem(
            file,
            "A cost limit needs prices. Give the table [costs], or leave the limit out.",
            column="budget.cost",
        )
