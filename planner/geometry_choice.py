"""Which specimen to cast: every geometry searched as a plan of its own, and the best of each put side by side.

A plan with ``[[specimens]]`` has records of several geometries. For each of them the breaks are converted to what the
specification speaks of, and the whole search runs as if they were the only ones. Nothing inside the search knows of
geometries, so a plan of one geometry is answered as it always was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.choices import choice_set, extra_choices
from planner.conversion import Conversion, converted_records
from planner.conversion.converted_records import records_of, shared_departure
from planner.conversion.told_conversions import conversion_figures, conversion_for, usual_strength
from planner.evidence import tabulate
from planner.laboratory.estimate import estimate, litres_of_one
from planner.population import basis_of
from planner.resampling import Scoring, joints_of
from planner.resampling.errors.judged_programmes import judge
from planner.searching import Work, search_of
from planner.terms.plan.settings import Costs, JudgedOn, Laboratory, Plan, Settings
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.problems import InputError, NoScheduleError, Problem
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.geometry_options import ErrorParts, GeometryAnswer, GeometryOption, GeometryReason
from planner.terms.results.programme_figures import Programme
from planner.verdict.answers.spending import programme_of
from planner.verdict.selection.fixed_programmes import FixedProgrammes
from planner.verdict.selection.search import Search

CENTS = 100.0  # money is compared to a hundredth


@dataclass(frozen=True, slots=True, eq=False)
class _Tried:
    """One geometry with its plan and its search."""

    kind: SpecimenKind
    plan: Plan | None  # None: no plan could be made
    conversion: Conversion | None
    option: GeometryOption
    judged_on: JudgedOn = "own batch"


def settled(plan: Plan, work: Work) -> tuple[Plan, GeometryAnswer | None]:
    """Choose the geometry where the plan lists several; a plan without ``[[specimens]]`` is handed back as it is.

    Raises
    ------
    InputError
        Where no listed geometry can be searched, with the reason of each.
    """
    if not plan.settings.specimens:
        return plan, None
    tried = [_try(plan, kind, work) for kind in plan.settings.specimens]
    if all(one.option.refused for one in tried):
        raise InputError(
            Problem(plan.name, f"{one.kind.geometry}: {one.option.refused}", column="specimens.geometry")
            for one in tried
        )
    judged_on: JudgedOn = "later pour" if any(_is_later(one) for one in tried) else "own batch"
    tried = [_comparable(one, judged_on) for one in tried]
    at, because = _decide(tried, plan.settings, judged_on)
    options = tuple(replace(one.option, is_recommended=place == at) for place, one in enumerate(tried))
    answer = GeometryAnswer(
        target_geometry=plan.settings.target.geometry,
        options=options,
        conversions=tuple(
            conversion_figures(one.conversion, plan.records, plan.settings.target.ages_h)
            for one in tried
            if one.conversion is not None
        ),
        because=because,
    )
    chosen = tried[at].plan
    assert chosen is not None
    return chosen, answer


def _is_later(one: _Tried) -> bool:
    return not one.option.refused and one.judged_on == "later pour"


def _comparable(one: _Tried, judged_on: JudgedOn) -> _Tried:
    """Leave out what can be judged on its own batch alone, where others are judged on later pours."""
    if one.option.refused or one.judged_on == judged_on:
        return one
    text = "its batches cannot be read on one another, so it cannot be compared with the others on later pours"
    return replace(one, option=replace(one.option, refused=text))


def _try(plan: Plan, kind: SpecimenKind, work: Work) -> _Tried:
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
    option = _option(search, kind, programme, _parts(plan, search, kind, conversion))
    return _Tried(kind, alone, conversion, option, search.programmes.wanted.judged_on)


def _refused(kind: SpecimenKind, why: str) -> _Tried:
    return _Tried(kind, None, None, GeometryOption(geometry=kind.geometry, refused=why))


def _first_line(error: InputError | NoScheduleError) -> str:
    text = error.problems[0].text if isinstance(error, InputError) else str(error)
    return text.rstrip(".")


def plan_of(plan: Plan, kind: SpecimenKind, conversion: Conversion | None) -> Plan:
    """The plan as if one geometry were all there is: its breaks converted, its own prices and minutes."""
    settings = plan.settings
    if conversion is None:
        records = records_of(plan.records, kind.geometry)
    else:
        common = max(shared_departure(plan.records, conversion, target_age_h=age) for age in settings.target.ages_h)
        records = converted_records(plan.records, conversion, common=common)
    prior = replace(settings.prior, geometry=kind.geometry)
    if kind.within_test_cv is not None:
        prior = replace(prior, within_test_cv=kind.within_test_cv, within_test_cv_by_age=())
    alone = replace(
        settings, specimens=(), prior=prior, costs=_costs(settings, kind), laboratory=_laboratory(settings, kind)
    )
    return replace(plan, settings=alone, records=records)


def _costs(settings: Settings, kind: SpecimenKind) -> Costs | None:
    if settings.costs is None:
        return None
    stated = {key: getattr(kind, key) for key in ("specimen", "preparation", "break_one")}
    return replace(
        settings.costs,
        litres_each=litres_of_one(kind.geometry),
        **{key: value for key, value in stated.items() if value is not None},
    )


def _laboratory(settings: Settings, kind: SpecimenKind) -> Laboratory | None:
    if kind.minutes_per_break is None:
        return settings.laboratory
    return replace(settings.laboratory_taken, minutes_per_break=kind.minutes_per_break, is_break_time_stated=True)


def _option(search: Search, kind: SpecimenKind, programme: Programme, error: ErrorParts) -> GeometryOption:
    """What one geometry asks for, counted as its estimate would."""
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
        n_targets=len(settings.target.ages_h),
    )
    count = priced.count
    is_measured = np.bincount(cells.check_unit, weights=cells.checks.conversion_cv == 0.0) > 0
    column = search.programmes.everything.trial_batches.index(number)
    return GeometryOption(
        geometry=kind.geometry,
        programme=programme,
        error=error,
        within_tolerance=float(search.programmes.everything.within_tolerance[search.chosen.taken.which, column]),
        n_units=cells.n_units,
        n_measured=int(is_measured.sum()),
        within_test_cv=cells.scatter.pooled_cv,
        cost=priced.total,
        preparation_cost=None if settings.costs is None else settings.costs.preparation * count.n_of_curve,
        n_made=count.n_of_curve,
        machine_minutes=settings.laboratory_taken.minutes_per_break * count.n_schedule,
        n_visits=priced.n_visits * number,
        n_moulds=count.n_moulds,
        litres=count.litres,
    )


def _parts(plan: Plan, search: Search, kind: SpecimenKind, conversion: Conversion | None) -> ErrorParts:
    """The total error of what was chosen, and the parts that curve and conversion have in it."""
    assert search.chosen is not None
    assert search.programmes is not None
    taken = search.chosen.taken
    column = search.programmes.everything.trial_batches.index(taken.n_trial_batches)
    total = float(search.programmes.everything.rms[taken.which, column])
    if conversion is None:
        return ErrorParts(total_rms=total, curve_rms=total, conversion_rms=0.0)
    target = plan.settings.target
    usual = [usual_strength(plan.records, kind.geometry, age) for age in target.ages_h]
    variances = [
        weight * float(conversion.variance(mpa, age))
        for mpa, age, weight in zip(usual, target.ages_h, target.target_weights, strict=True)
        if mpa is not None
    ]
    return ErrorParts(
        total_rms=total,
        curve_rms=_curve_alone(plan, search, kind, conversion),
        conversion_rms=float(np.sqrt(sum(variances))),
    )


def _curve_alone(plan: Plan, search: Search, kind: SpecimenKind, conversion: Conversion) -> float | None:
    """The chosen programme held against truths of its own geometry, converted alike: the conversion drops out."""
    own = converted_records(records_of(plan.records, kind.geometry), conversion)
    exact = replace(own, breaks=tuple(replace(item, conversion_cv=0.0) for item in own.breaks))
    settings, programmes = search.plan.settings, search.programmes
    assert programmes is not None
    assert search.chosen is not None
    try:
        cells = tabulate(exact, settings)
    except InputError:
        return None
    taken, joints = search.chosen.taken, joints_of(settings.curves, cells.settings)
    found = extra_choices([programmes.rule.matrix.choices.schedule(taken.which)], cells.ages_h)
    if found[0] is None or joints != programmes.rule.matrix.joints:
        return None
    judged = judge(
        cells, Scoring.of(cells, settings.target), choice_set(cells.ages_h, [found[0]]), np.zeros(1, dtype=np.int64),
        np.array([taken.joint]), joints, judged_on=programmes.wanted.judged_on,
        trial_batches=(taken.n_trial_batches,),
    )  # fmt: skip
    rms = float(judged.rms[0, 0])
    return rms if np.isfinite(rms) else None


def _decide(tried: Sequence[_Tried], settings: Settings, judged_on: JudgedOn) -> tuple[int, GeometryReason]:
    """The rule of programmes: the cheapest that is good enough, else the cheapest that ties with the best.

    Each geometry stands as one programme. Where there are prices they take the place of the counts of specimens, since
    specimens of two geometries cost unlike.
    """
    options = [one.option for one in tried]
    price = [_price(option) for option in options]
    rms = np.array([np.nan if option.error is None or option.refused else option.error.total_rms for option in options])
    programmes = FixedProgrammes(
        judged_on=judged_on,
        assurance=settings.target.assurance,
        trial_batches=(1,),
        joint=np.zeros(len(tried), dtype=np.int64),
        n_specimens=np.array(price, dtype=np.int64),
        rms=rms[:, None],
        within_tolerance=np.array([[option.within_tolerance or 0.0] for option in options]),
        is_within_limits=np.isfinite(rms)[:, None],
    )
    decision = programmes.decide()
    assert decision is not None  # one at least was not refused
    if np.isfinite(rms).sum() == 1:
        return decision.lowest.which, GeometryReason.ONLY_ONE
    if decision.fewest is not None:
        return decision.fewest.which, GeometryReason.CHEAPEST_ENOUGH
    tied = np.flatnonzero(rms <= decision.lowest.rms + settings.target.immaterial_difference)
    return int(min(tied, key=lambda at: (price[at], rms[at]))), GeometryReason.CHEAPEST_TIED


def _price(option: GeometryOption) -> int:
    if option.programme is None:
        return 0
    return option.programme.n_specimens if option.cost is None else round(option.cost * CENTS)
