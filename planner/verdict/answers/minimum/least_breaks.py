"""The least that has to be broken for one target: fewest breaks, fewest ages, ages that must be there, constraints.

Every statement is a comparison of fixed programmes by their own judged figures, held out. A programme keeps the target
where its share of batches inside the tolerance reaches the assurance; "judged" is a later pour or the own batch, as
the plan asks.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from planner.terms.arrays import BoolArray
from planner.terms.labels import age_label
from planner.terms.results.minimum.minimum_figures import (
    AgeNeed,
    AtLeast,
    ConstraintPrice,
    Least,
    LeastOf,
    Need,
    TargetMinimum,
    TargetMinimumFigures,
)
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.worded import worded
from planner.verdict.answers.minimum.allowed_programmes import (
    AllowedProgrammes,
    allowed_programmes,
    outside_programme,
)
from planner.verdict.answers.minimum.property_rules import property_rules
from planner.verdict.answers.minimum.spans import Spans, ends_of, is_extrapolating, spans_of
from planner.verdict.answers.minimum.standard_counts import at_least
from planner.verdict.answers.programmes.spending import programme_of
from planner.verdict.selection.search import Search
from planner.verdict.wording.minimum_words import UNJUDGED_DRAWN, UNJUDGED_FEW, minimum_words

TOLD = 1.05  # errors closer together than 5 % are not told apart
EARLY_CONSTRAINTS = 2
LATE_CONSTRAINTS_H = (24.0, 72.0, 168.0)

Constraint = tuple[str, BoolArray]  # name, schedules that obey it


def target_minimum(
    search: Search,
    *,
    age_h: float | None,
    constraints: Sequence[Constraint] = (),
    customary: RatedChoice | None = None,
    standard: str = "",
) -> TargetMinimum:
    """Everything one target asks for.

    Parameters
    ----------
    age_h
        The target age; None: all targets of the plan together.
    constraints
        Of the laboratory.
    customary
        The customary ages, rated, to stand beside.
    standard
        Whose counts are asked for beside; none where "".
    """
    allowed = allowed_programmes(search)
    if allowed is None or search.chosen is None:
        return _unjudged(search, age_h)
    taken = search.chosen.taken
    nearest = programme_of(search, allowed.rule, taken, is_tied=taken in search.chosen.tied)
    spans = spans_of(search.cells, search.cells.settings.index(nearest.maturity))
    own = allowed_programmes(search, "own batch") if _is_later_missed(allowed) else None
    counts = allowed.counted.by_set
    leasts = _leasts(allowed)
    needs = _needs(allowed, spans)
    has_must = any(item.need in ("must be there", "demanded") for item in needs)
    figures = TargetMinimumFigures(
        **_of_records(search, age_h, spans),
        n_programmes=int(counts.programmes.sum()),
        n_keeping=int(counts.keeping.sum()),
        judged_on=allowed.judged_on,
        unjudged_because="",
        leasts=leasts,
        own_batch=() if own is None else _leasts(own),
        nearest=nearest,
        customary=outside_programme(search, customary),
        ages=needs,
        rules=() if has_must else property_rules(allowed, spans),
        constraints=_prices(allowed, constraints),
        at_least=_standard(allowed, standard),
    )
    target = search.plan.settings.target
    words = minimum_words(figures, tolerance=target.tolerance, assurance=target.assurance)
    return worded(TargetMinimum, figures, sentence=words)


def _is_later_missed(allowed: AllowedProgrammes) -> bool:
    return allowed.judged_on == "later pour" and not allowed.is_keeping.any()


def _standard(allowed: AllowedProgrammes, standard: str) -> AtLeast | None:
    return at_least(allowed, standard) if standard else None


def _of_records(search: Search, age_h: float | None, spans: Spans) -> dict[str, Any]:
    """Fields that tell what the records say of the target, whatever can be judged."""
    cells = search.cells
    setting = 0 if not search.chosen else cells.settings.index(search.matrix.joints[search.chosen.taken.joint].maturity)
    at_target, truth = cells.checks.maturity_h[setting], cells.checks.truth_mpa
    return {
        "age_h": age_h,
        "maturity_h": spans.middle_h,
        "maturity_span_h": (float(at_target.min()), float(at_target.max())),
        "strength_mpa": (float(truth.min()), float(truth.mean()), float(truth.max())),
        "n_batches": search.scoring.n_units,
    }


def _unjudged(search: Search, age_h: float | None) -> TargetMinimum:
    """Nothing but the records themselves: drawn batches carry no share, and one batch judges nothing."""
    figures = TargetMinimumFigures(
        **_of_records(search, age_h, spans_of(search.cells, 0)),
        n_programmes=0,
        n_keeping=0,
        judged_on=None,
        unjudged_because=UNJUDGED_DRAWN if search.basis.is_drawn else UNJUDGED_FEW,
        leasts=(),
        own_batch=(),
        nearest=None,
        customary=None,
        ages=(),
        rules=(),
        constraints=(),
        at_least=None,
    )
    return worded(TargetMinimum, figures, sentence=minimum_words(figures, tolerance=1.0, assurance=1.0))


def _leasts(allowed: AllowedProgrammes) -> tuple[Least, ...]:
    """Fewest breaks, fewest ages, latest first and earliest last break of the programmes that keep the target."""
    keeping = allowed.is_keeping
    if not keeping.any():
        return ()
    first, last = ends_of(allowed.choices)
    n_ages = allowed.choices.n_ages
    some = keeping.any(axis=1)
    wanted: tuple[tuple[LeastOf, BoolArray], ...] = (
        ("breaks", np.ones(len(n_ages), dtype=bool)),
        ("ages", np.asarray(n_ages == n_ages[some].min())),
        ("latest first break", np.asarray(first == first[some].max())),
        ("earliest last break", np.asarray(last == last[some].min())),
    )
    found = []
    for of, is_choice in wanted:
        programme = allowed.fewest_keeping(is_choice)
        assert programme is not None
        found.append(
            Least(of=of, programme=programme, is_extrapolating=is_extrapolating(allowed.rule.cells, programme))
        )
    return tuple(found)


def _needs(allowed: AllowedProgrammes, spans: Spans) -> tuple[AgeNeed, ...]:
    """Hold every offered age against doing without it."""
    set_has_age, keeping = allowed.choices.set_has_age(), allowed.counted.by_set.keeping
    demanded = allowed.search.plan.settings.choices.required_ages_h
    needs = []
    for position in allowed.search.offered.tolist():
        set_has = set_has_age[:, position]
        has = set_has[allowed.choices.set_of]
        age_h = float(allowed.choices.ages_h[position])
        n_with, n_without = int(keeping[set_has].sum()), int(keeping[~set_has].sum())
        rms_with, rms_without = allowed.lowest(has), allowed.lowest(~has)
        needs.append(
            AgeNeed(
                age_h=age_h,
                multiple=float(spans.multiples[position]),
                need=need_of(
                    is_demanded=any(np.isclose(age_h, demanded)),
                    n_keeping=(n_with, n_without),
                    rms=(rms_with, rms_without),
                ),
                rms_with=rms_with,
                rms_without=rms_without,
                n_keeping_with=n_with,
                n_keeping_without=n_without,
            )
        )
    return tuple(needs)


def need_of(*, is_demanded: bool, n_keeping: tuple[int, int], rms: tuple[float | None, float | None]) -> Need:
    """Judge one age by the programmes that keep the target, and by the lowest error, with it and without it.

    It must be there where programmes keep the target and none of them is without it, though the plan allows such; what
    the plan itself demands is demanded.
    """
    if is_demanded:
        return "demanded"
    with_it, without = rms
    if n_keeping[0] and not n_keeping[1] and without is not None:
        return "must be there"
    if with_it is None or (without is not None and with_it > TOLD * without):
        return "does not help"
    return "may be there"


def _prices(allowed: AllowedProgrammes, constraints: Sequence[Constraint]) -> tuple[ConstraintPrice, ...]:
    """Hold every constraint against having none."""
    free, fewest, cheapest = _figures(allowed, np.ones(len(allowed.choices), dtype=bool))
    priced = []
    for name, is_obeying in (*_age_constraints(allowed), *constraints):
        rms, n_specimens, cost = _figures(allowed, is_obeying)
        priced.append(
            ConstraintPrice(
                name=name,
                rms=rms,
                rms_more=None if rms is None or free is None else rms - free,
                fewest_specimens=n_specimens,
                specimens_more=None if n_specimens is None or fewest is None else n_specimens - fewest,
                cost_more=None if cost is None or cheapest is None else cost - cheapest,
            )
        )
    return tuple(priced)


def _figures(allowed: AllowedProgrammes, is_choice: BoolArray) -> tuple[float | None, int | None, float | None]:
    """Lowest judged error, fewest specimens and least money of what keeps the target, under a restriction."""
    decision = allowed.fixed.decide(is_choice)
    if decision is None:
        return None, None, None
    fewest = decision.fewest
    if fewest is None:
        return decision.lowest.rms, None, None
    cost = allowed.cost
    cheapest = None if cost is None else float(cost[allowed.is_keeping & is_choice[:, None]].min())
    return decision.lowest.rms, fewest.n_specimens, cheapest


def _age_constraints(allowed: AllowedProgrammes) -> list[Constraint]:
    """No break before the next candidate ages, nothing after a day, three days, a week."""
    first, last = ends_of(allowed.choices)
    ages_h = allowed.choices.ages_h
    offered_h = ages_h[allowed.search.offered]
    early = offered_h[1 : 1 + EARLY_CONSTRAINTS]
    late = [age for age in LATE_CONSTRAINTS_H if age < offered_h[-1]]
    return [
        *((f"no break before {age_label(float(age))}", np.asarray(ages_h[first] >= age)) for age in early),
        *((f"nothing after {age_label(age)}", np.asarray(ages_h[last] <= age)) for age in reversed(late)),
    ]
