"""One geometry searched as a plan of its own, or why it cannot be."""

from __future__ import annotations

from dataclasses import dataclass

from planner.conversion import Conversion
from planner.conversion.stated_conversions import conversion_for
from planner.geometry_choice.error_of_parts import error_parts, measured_share
from planner.geometry_choice.plan_alone import plan_of
from planner.geometry_choice.priced_option import priced_option
from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import JudgedOn, Plan
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.problems import InputError, NoScheduleError
from planner.terms.results.geometry.geometry_options import GeometryFigures
from planner.verdict.answers.programmes.spending import programme_of

MOST_ROUNDS = 4  # of a search whose truths are spread
NEARLY_NOTHING = 0.002  # of the total variance: a covariance that is no nearer to 0 is put back


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One geometry with its plan and its search."""

    kind: SpecimenKind
    plan: Plan | None  # None: no plan could be made
    conversion: Conversion | None
    option: GeometryFigures
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
    try:
        return _searched(plan, kind, conversion, work)
    except (InputError, NoScheduleError) as error:
        return _refused(kind, _first_line(error), conversion)


def _searched(plan: Plan, kind: SpecimenKind, conversion: Conversion | None, work: Work) -> Tried:
    """Search, and search again with the truths spread while errors of curve and conversion seem to cancel.

    A covariance below 0 would make the total smaller than its parts. So few batches cannot tell it from chance, so it
    is never credited: what it takes off is put back on the measured truths, and so into every figure of the answer.
    """
    not_credited = 0.0
    tried, missing = _once(plan, kind, conversion, work, not_credited=not_credited)
    for _ in range(MOST_ROUNDS - 1):
        if missing == 0.0:
            break
        not_credited += missing
        tried, missing = _once(plan, kind, conversion, work, not_credited=not_credited)
    return tried


def _once(
    plan: Plan, kind: SpecimenKind, conversion: Conversion | None, work: Work, *, not_credited: float
) -> tuple[Tried, float]:
    """One search, and the variance that its measured truths still lack; 0: none."""
    alone = plan_of(plan, kind, conversion, not_credited=not_credited)
    if not alone.records.breaks:
        return _refused(kind, "the records hold no break of it"), 0.0
    search = search_of(alone, basis_of(alone), work)
    if search.programmes is None or search.chosen is None:
        return _refused(kind, "its breaks cannot judge every choice that is offered", conversion), 0.0
    error = error_parts(plan, search, kind, conversion, not_credited=not_credited)
    option = priced_option(search, kind, programme_of(search, search.programmes, search.chosen.taken), error)
    missing, share = -(error.twice_covariance or 0.0), measured_share(search.cells, not_credited)
    is_whole = missing <= NEARLY_NOTHING * error.total_rms**2 or share == 0.0
    tried = Tried(kind, alone, conversion, option, search.programmes.wanted.judged_on)
    return tried, 0.0 if is_whole else missing / share


def _refused(kind: SpecimenKind, why: str, conversion: Conversion | None = None) -> Tried:
    return Tried(kind, None, conversion, GeometryFigures(geometry=kind.geometry, refused=why))


def _first_line(error: InputError | NoScheduleError) -> str:
    text = error.problems[0].text if isinstance(error, InputError) else str(error)
    return text.rstrip(".")
