"""One geometry searched as a plan of its own, or why it cannot be."""

from __future__ import annotations

from dataclasses import dataclass, replace

from planner.conversion import Conversion
from planner.conversion.told_conversions import conversion_for
from planner.geometry_choice.error_of_parts import error_parts
from planner.geometry_choice.plan_alone import plan_of
from planner.geometry_choice.priced_option import priced_option
from planner.population import basis_of
from planner.searching import Work, search_of
from planner.terms.plan.settings import JudgedOn, Plan
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.problems import InputError, NoScheduleError
from planner.terms.results.geometry_options import GeometryOption
from planner.verdict.answers.spending import programme_of


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One geometry with its plan and its search."""

    kind: SpecimenKind
    plan: Plan | None  # None: no plan could be made
    conversion: Conversion | None
    option: GeometryOption
    judged_on: JudgedOn = "own batch"


def try_geometry(plan: Plan, kind: SpecimenKind, work: Work) -> Tried:
    """Search one geometry, or say why it cannot be."""
    wanted = plan.settings.target.geometry
    conversion = None if kind.geometry == wanted else conversion_for(plan.records, plan.settings, kind)
    if kind.geometry != wanted and conversion is None:
        return _refused(
            kind, f"fewer than three batches hold pairs with {wanted}, and no factor is stated. Cast both together in "
            "more batches, or state factor and factor_cv"
        )  # fmt: skip
    alone = plan_of(plan, kind, conversion)
    if not alone.records.breaks:
        return _refused(kind, "the records hold no break of it")
    try:
        search = search_of(alone, basis_of(alone), work)
    except (InputError, NoScheduleError) as error:
        return replace(_refused(kind, _first_line(error)), conversion=conversion)
    if search.programmes is None or search.chosen is None:
        return replace(_refused(kind, "its breaks cannot judge every choice that is offered"), conversion=conversion)
    programme = programme_of(search, search.programmes, search.chosen.taken)
    option = priced_option(search, kind, programme, error_parts(plan, search, kind, conversion))
    return Tried(kind, alone, conversion, option, search.programmes.wanted.judged_on)


def _refused(kind: SpecimenKind, why: str) -> Tried:
    return Tried(kind, None, None, GeometryOption(geometry=kind.geometry, refused=why))


def _first_line(error: InputError | NoScheduleError) -> str:
    text = error.problems[0].text if isinstance(error, InputError) else str(error)
    return text.rstrip(".")
