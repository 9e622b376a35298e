"""What early breaks of every later pour do to its reading: the answer."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.labels import schedule_label
from planner.terms.plan.early_breaks import PourBreaks, PourReading
from planner.terms.promise import Promise
from planner.terms.results.after_casting.pour_model import PourModel
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlyBreakRow:
    """The best early breaks with so many specimens, judged on earlier batches that play the pour."""

    ages_h: tuple[float, ...]  # () where nothing is broken
    specimens: tuple[int, ...]
    n_trial_batches: int  # cast before; 0: the records alone
    reading: PourReading
    rms: float  # relative; of the best ages by the other batches, so that no batch judges what it chose
    rms_upper_95: float
    is_below_resolution: bool  # `rms` is what the scatter of the specimens alone gives
    within_tolerance: Promise  # share of held-out pours with every target inside
    over_predicted_beyond_tolerance: Promise
    reads_within: Promise  # relative half-width that the assured share of pours keeps at every target
    safe_reading_factor: Promise  # worst target, at the assurance
    rms_by_target: tuple[float, ...]
    rms_records: float  # read from the records alone
    rms_records_and_trial: float | None  # after as many trial batches, one where none; None: too few batches
    rms_rescaled: float | None  # curve of as many, as it is or rescaled by the early breaks; None as above
    widening: float = 1.0  # variance of the held-out readings over what the model states, 1 or more
    cost_per_pour: float | None = None
    cost_of_pours: float | None = None  # of all that the plan foresees
    cost_of_calibration: float | None = None  # 0 where the records alone are read: nothing is cast

    @property
    def label(self) -> str:
        """The early breaks as a plan writes schedules."""
        return schedule_label(Schedule(self.ages_h, self.specimens)) if self.ages_h else "nothing"

    @property
    def n_specimens(self) -> int:
        return sum(self.specimens)

    @property
    def cost_in_all(self) -> float | None:
        """Money of calibration and all pours; None without prices or their number."""
        if self.cost_of_calibration is None or self.cost_of_pours is None:
            return None
        return self.cost_of_calibration + self.cost_of_pours


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenAnew:
    """Trial batches, reading, ages and number of early specimens chosen again without each pour, and judged on it."""

    rms: float  # relative
    n_alike: int  # pours without which the same would be cast, broken and read the same way
    is_strict: bool  # nothing was learnt from a pour where its breaks were chosen


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlyBreaks:
    """What each pour breaks: the answer."""

    rows: tuple[EarlyBreakRow, ...]  # with the trial batches that are worth it, by specimens, none first; () not judged
    recommended: int | None  # place of the row that is worth its specimens
    is_enough: bool  # its readings are surely enough within the tolerance
    n_batches: int
    n_plans: int  # early plans that were judged
    n_pours: int | None
    currency: str
    sentences: tuple[str, ...]  # the rival, the advice, the conditions; or why nothing can be said
    by_trials: tuple[tuple[EarlyBreakRow, ...], ...] = ()  # the same with 0, 1, 2, ... trial batches, `rows` among them
    offered: tuple[int, ...] = ()  # numbers of trial batches that the plan allows, 0 among them
    models: tuple[PourModel, ...] = ()  # by which pours are read after 0, 1, 2, ... trial batches; () not judged
    chosen_anew: ChosenAnew | None = None  # None where some pour cannot be left out

    def model_of(self, n_trial_batches: int) -> PourModel | None:
        """By what pours are read after so many trial batches; beyond those judged, as after the most of them."""
        return self.models[min(n_trial_batches, len(self.models) - 1)] if self.models else None

    @property
    def pour_breaks(self) -> PourBreaks | None:
        """What all pours together break, where their number is planned."""
        if self.recommended is None or not self.n_pours:
            return None
        return PourBreaks(n_pours=self.n_pours, n_specimens=self.rows[self.recommended].n_specimens)
