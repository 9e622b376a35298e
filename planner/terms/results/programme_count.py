"""A whole calibration, counted and priced: what is made beyond the schedule, and what it costs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from planner.terms.plan.third_specimen import ThirdSpecimenRule
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.cost_item import CostItem, CostPart
from planner.terms.schedule import Schedule

ANY_HOUR = "any hour"  # the laboratory is always open and no casting time is asked for


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeCount:
    """Specimens, moulds and concrete. Trial batches are cast on different days and reuse the moulds."""

    n_trial_batches: int
    n_schedule: int  # broken for the curve, over all trial batches
    n_spares: int  # cast in reserve, over all trial batches
    n_instrumented: int  # with a temperature sensor, not broken, over all trial batches
    n_checks: int  # site checks foreseen
    n_companions: int  # broken beside the site checks; cast from the pours, not from the trial batches
    n_acceptance: int = 0  # companions of the trial batches at the targets, by which their curves are accepted
    expected_third_breaks: float  # over all trial batches; they come out of the spares
    third: ThirdSpecimenRule  # by which those are called for
    n_moulds: int  # most specimens that stand in moulds at once
    litres_per_trial_batch: float | None  # concrete to mix, waste included; None: no geometry given
    litres: float | None  # over all trial batches and site checks

    @property
    def n_broken(self) -> int:
        """Breaks planned: the schedule's and all companions'."""
        return self.n_schedule + self.n_companions + self.n_acceptance

    @property
    def n_made(self) -> int:
        return self.n_of_curve + self.n_companions + self.n_acceptance

    @property
    def n_of_curve(self) -> int:
        """Made for the curve: broken, in reserve and with sensors."""
        return self.n_schedule + self.n_spares + self.n_instrumented


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakHour:
    """When the specimens of one age are broken, if the batch is cast at the hour of the estimate."""

    age_h: float
    n_specimens: int
    day: int  # since the day of casting, which is 0
    weekday: int  # Monday is 0
    starts: dt.time  # the first specimen goes in
    ends: dt.time
    is_outside_hours: bool
    visit: int = 0  # which attendance it belongs to, from 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """One schedule, counted and priced line by line."""

    label: ChoiceRole
    schedule: Schedule
    count: ProgrammeCount
    casting: str  # whose attendances are counted: "Monday 21:30", "2027-03-01 21:30", or `ANY_HOUR`
    n_visits: int  # attendances of one trial batch
    n_outside: int  # those outside laboratory hours
    items: tuple[CostItem, ...]
    total: float | None  # of the calibration, what a money limit holds for; None where no prices are given
    open_items: tuple[str, ...]  # needed, but without a price: not in the total
    n_visits_at_most: int | None = None  # at the worst casting hour, where it may be any hour
    n_castings_asked: int = 0  # casting times given; trial batches beyond them are priced as the last
    break_hours: tuple[BreakHour, ...] = ()  # by age; none where the laboratory is always open

    @property
    def in_all(self) -> float | None:
        """The calibration, its checks, what the pours break, and the contingency; None without prices."""
        return None if self.total is None else sum(item.amount for item in self.items)

    def amount_of(self, part: CostPart) -> float:
        """Sum of the lines of one part; open ones add nothing."""
        return sum(item.amount for item in self.items if item.part is part)


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteChecks:
    """Companions beside the trial batch and beside later pours: how many, by which rules, how often chance fails."""

    companions_per_check: int
    n_checks: int  # the plan's; 0 where it names none
    n_checks_to_notice: int | None  # within which a lasting offset of one tolerance is found 9 times in 10; None: never
    scatter: float | None  # standard deviation of one check, relative; None: the later pour's error is not known
    chance_of_false_alarm: float | None  # that one check of a sound curve fails the customary 10 %
    chance_of_alarm: tuple[tuple[int, float], ...]  # (checks, chance that a sound curve is withdrawn within them)
    rule: str  # of site checks, in words
    acceptance: str  # of the calibration, in words
