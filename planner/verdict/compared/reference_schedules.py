"""Schedules named beforehand, on the same footing as the recommendation: customary, equal gain, compared."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.choices import choice_set, customary_schedule, equal_gain_schedule, extra_choices, spread_evenly
from planner.resampling import error_matrix
from planner.terms.labels import schedule_label
from planner.terms.problems import Caution
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Rival
from planner.terms.schedule import Schedule
from planner.verdict.compared.paired_comparison import NamedSchedules, compare
from planner.verdict.compared.rater import Rater
from planner.verdict.design.efficiency import PlacementLimit
from planner.verdict.selection.nested import Nested
from planner.verdict.selection.search import Asks, Search
from planner.verdict.wording.evidence_words import not_compared_words

Price = Callable[[ChoiceRole, Schedule], Estimate]
Row = tuple[ChoiceRole, Sequence[int], Sequence[int]]  # label, positions of the ages, specimens


@dataclass(frozen=True, slots=True, eq=False)
class Named:
    """What became of the named schedules."""

    schedules: NamedSchedules | None  # None: there are none
    rated: tuple[RatedChoice, ...]
    cautions: tuple[Caution, ...]

    def labelled(self, label: ChoiceRole) -> tuple[RatedChoice, ...]:
        return tuple(choice for choice in self.rated if choice.label == label)

    def first(self, label: ChoiceRole) -> RatedChoice | None:
        return next(iter(self.labelled(label)), None)

    def rivals(self, held_out: Nested | None) -> tuple[Rival, ...]:
        """Nested differences to the recommendation; none where nothing could be held out."""
        if self.schedules is None or held_out is None:
            return ()
        found = []
        for choice in self.rated:
            which = next(
                i
                for i in range(self.schedules.matrix.n_searched)
                if self.schedules.matrix.choices.schedule(i) == choice.schedule
                and self.schedules.labels[i] == choice.label
            )
            found.append(compare(held_out, self.schedules, which, choice.schedule))
        return tuple(rival for rival in found if rival is not None)


def rate_named(search: Search, rater: Rater, limit: PlacementLimit | None, n_ages: int, price: Price) -> Named:
    """Rate every named schedule with the curve and constants that serve it best.

    Parameters
    ----------
    n_ages
        Of the equal gain schedule.
    price
        From a schedule and its role to what it asks of the laboratory: it need not be one of those searched.
    """
    rows, said = _rows(search, n_ages)
    if not rows:
        return Named(None, (), tuple(said))
    cells = search.cells
    choices = choice_set(cells.ages_h, [(positions, counts) for _, positions, counts in rows])
    matrix = error_matrix(
        cells, choices, search.matrix.joints, search.scoring, n_workers=search.n_workers, is_all_kept=True
    )
    named = NamedSchedules(tuple(label for label, *_ in rows), matrix, search.rule.learnt)
    rated: list[RatedChoice] = []
    for which, (label, *_rest) in enumerate(rows):
        row = named.best_row(which, named.judged_units(which))
        if row is None:
            said.append(_not_compared(choices.schedule(which)))
            continue
        schedule = choices.schedule(which)
        priced = price(label, schedule)
        efficiency = None if limit is None else limit.efficiency_of(schedule)
        asks = Asks(cost=priced.total, n_visits=priced.n_visits, efficiency=efficiency)
        rated.append(rater.rate_row(label, matrix, row, asks))
    return Named(named, tuple(rated), tuple(said))


def _rows(search: Search, n_ages: int) -> tuple[list[Row], list[Caution]]:
    settings, cells = search.plan.settings, search.cells
    budget, per_age = settings.budget.specimens, settings.choices.specimens_per_age
    customary = customary_schedule(cells.ages_h)
    equal_gain = equal_gain_schedule(cells.typical_mpa(), search.offered, n_ages)
    rows: list[Row] = []
    for label, positions in ((ChoiceRole.CUSTOMARY, customary), (ChoiceRole.EQUAL_GAIN, equal_gain)):
        counts = spread_evenly(len(positions), budget, per_age) if len(positions) >= 2 else None
        if counts is not None:
            rows.append((label, positions, counts))
    said: list[Caution] = []
    for schedule, found in zip(settings.compare, extra_choices(settings.compare, cells.ages_h), strict=True):
        if found is None:
            said.append(_not_compared(schedule))
        else:
            rows.append((ChoiceRole.COMPARED, *found))
    return rows, said


def _not_compared(schedule: Schedule) -> Caution:
    return Caution(
        "not-compared",
        not_compared_words(schedule_label(schedule)),
    )
