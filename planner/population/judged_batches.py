"""What choices are judged on: the breaks themselves, or batches drawn from what breaks or published growth say.

Measured and drawn evidence are never mixed: where one candidate age, or a target, was broken in too few
batches, every choice is judged on drawn batches, so that all stand on one footing.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np

from planner.evidence import Cells, tabulate
from planner.evidence.reached_strength import reach
from planner.population.drawing import Drawn, draw_cells
from planner.population.population_model import Population, population_of
from planner.population.published_population import published_population
from planner.terms.labels import listed, strength_label
from planner.terms.plan.settings import Plan, Settings
from planner.terms.plan.tolerances import SAME_AGE_H
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, Records
from planner.terms.results.recommended.evidence_figures import EvidenceGrade

ENOUGH_UNITS = 3  # batches that must have been broken at an age before breaks alone can judge it
RANKING_SEED = 1  # draws that rank; no seed of the user's changes the recommendation
N_POPULATIONS = 24
PER_POPULATION = 6


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Basis:
    """Cells to judge on, with where they come from."""

    grade: EvidenceGrade
    cells: Cells  # of drawn batches a unit is a whole population: that is what is not known
    population: Population | None = None  # None: the breaks themselves judge
    cautions: tuple[Caution, ...] = ()  # of the drawing

    @property
    def is_drawn(self) -> bool:
        return self.population is not None


def basis_of(plan: Plan) -> Basis:
    """Take the breaks themselves where they can judge every choice, else draw batches for all choices.

    Raises
    ------
    InputError
        Where neither breaks nor published growth can be used.
    """
    settings = plan.settings
    if settings.prior.published is not None:
        return _drawn_basis(published_population(settings, seed=RANKING_SEED), settings)
    if is_judged_by_breaks(plan.records, settings):
        return Basis(grade="measured", cells=tabulate(plan.records, settings))
    if settings.target.strengths_mpa:
        raise InputError([_no_drawn_strengths(plan.records, settings)])
    return _drawn_basis(population_of(plan.records, settings, seed=RANKING_SEED), settings)


def _no_drawn_strengths(records: Records, settings: Settings) -> Problem:
    """Which strengths were reached in how many batches; or, where in enough, that an age is the matter."""
    batches = {item.batch for item in records.breaks if item.curing == "standard"}
    reaching = {wait: set(reach(records, wait).reaching) for wait in settings.target.strengths_mpa if wait is not None}
    told = listed((f"{strength_label(wait)} in {len(found)}" for wait, found in reaching.items()), most=len(reaching))
    together = set.intersection(*reaching.values())
    of_all = f", all of them in {len(together)}" if len(reaching) > 1 else ""
    few = len(together) < min(ENOUGH_UNITS, len(batches))
    return Problem(
        "plan",
        "A strength that the site waits for is judged on broken batches alone, at least "
        f"{ENOUGH_UNITS} for every target and candidate age. Of {len(batches)} batches, breaks lie on both sides of "
        f"{told}{of_all}. "
        + (
            "Give strengths that more batches were broken on both sides of."
            if few
            else "Some candidate age or target age was broken in too few of them: offer the ages that they were "
            "broken at, or ask for ages."
        ),
        column="target.strengths",
    )


def is_judged_by_breaks(records: Records, settings: Settings) -> bool:
    """Whether every candidate age was broken in enough batches that were checked at every target.

    Three are enough; records of one or two batches must hold every age in all of them, and then say
    themselves how little they can promise.
    """
    is_by_mix = settings.prior.hold_out == "mix"

    def unit(item: Break) -> str:
        return item.mix if is_by_mix else item.batch

    standard: dict[str, set[float]] = defaultdict(set)
    checked: dict[str, set[float]] = defaultdict(set)
    for item in records.breaks:
        if item.curing == "standard":
            standard[unit(item)].add(item.age_h)
        if item.curing in ("standard", "site"):
            checked[unit(item)].add(item.age_h)
    targets = tuple(zip(settings.target.ages_h, settings.target.waits_mpa, strict=True))
    reaching = {wait: set(reach(records, wait).reaching) for _, wait in targets if wait is not None}
    reaches = {wait: {unit(item) for item in records.breaks if item.batch in found} for wait, found in reaching.items()}
    judges = [
        name
        for name in standard
        if all(_has(checked[name], age) if wait is None else name in reaches[wait] for age, wait in targets)
    ]
    enough = min(ENOUGH_UNITS, len(standard))
    if not judges or len(judges) < enough:
        return False
    latest_h = settings.budget.latest_age_h or np.inf
    wanted = [
        age
        for age in {*settings.choices.ages_h, *settings.choices.required_ages_h}
        if settings.final_set_h <= age <= latest_h
    ]
    return all(sum(_has(standard[name], age) for name in judges) >= enough for age in wanted)


def _has(ages_h: set[float], age_h: float) -> bool:
    return any(abs(age - age_h) <= SAME_AGE_H for age in ages_h)


def _drawn_basis(population: Population, settings: Settings) -> Basis:
    drawn = draw_cells(
        population,
        settings,
        n_batches=N_POPULATIONS * PER_POPULATION,
        per_population=PER_POPULATION,
        seed=RANKING_SEED,
    )
    return Basis(
        grade=population.grade, cells=judged_by_population(drawn), population=population, cautions=drawn.cautions
    )


def some_batches(cells: Cells, *, every: int = 3) -> Cells:
    """The same cells with every so many of the drawn batches: for long lists, which nobody reads to the last digit."""
    kept = np.arange(0, len(cells.views.batch), every)
    n_all = np.bincount(cells.views.unit, minlength=cells.n_units)
    n_kept = np.bincount(cells.views.unit[kept], minlength=cells.n_units)
    if not n_kept.all():
        return cells
    fewer = cells.of_views(kept)
    weight = fewer.checks.weight * (n_all / n_kept)[fewer.check_unit]
    return replace(fewer, checks=replace(fewer.checks, weight=weight))


def judged_by_population(drawn: Drawn) -> Cells:
    """The same cells with a whole population as the unit: batches of one share what is not known of the mix."""
    cells = drawn.cells
    numbers, unit = np.unique(drawn.population_of_unit, return_inverse=True)
    n_batches = np.bincount(unit)
    return replace(
        cells,
        unit_names=tuple(f"drawn mix {k + 1}" for k in numbers),
        views=replace(cells.views, unit=unit),
        checks=replace(cells.checks, weight=cells.checks.weight / n_batches[unit[cells.checks.view]]),
    )
