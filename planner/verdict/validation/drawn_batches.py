"""The recommended choice on drawn batches that had no part in choosing it.

They tell about how large an error is, never a bound: the concrete of the site departs from the curing room's in
ways that no drawing knows, and a bound from few breaks would look safer than one from many.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet, choice_set
from planner.population import Population, draw_cells
from planner.population.drawing import Drawn
from planner.resampling import Joint, PairErrors, Scoring, pair_errors
from planner.resampling.errors.arithmetic import share_beyond, share_of_normal_units
from planner.resampling.errors.sweeps import sweep_sets, variance_with
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Settings
from planner.terms.results.drawn_figures import TemperatureRow
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import NextBatchVerdict, OwnBatchVerdict, TargetVerdict
from planner.verdict.validation.next_batch import trial_batches
from planner.verdict.validation.temperature_errors import temperature_table

FRESH_SEED = 2  # other draws than those that ranked; no seed of the user's changes them
N_POPULATIONS = 120
PER_POPULATION = 8
_NODES = 15  # of the normal law, where a quantile over batches and specimens is asked


@dataclass(frozen=True, slots=True, eq=False)
class FreshLook:
    """One joint choice in every fresh batch."""

    drawn: Drawn
    settings: Settings
    scoring: Scoring
    choices: ChoiceSet  # the one schedule
    joint: Joint
    error: FloatArray  # signed, free of scatter, (n_checks,)
    variance: FloatArray  # what the schedule's own specimens add, (n_checks,)

    def rms(self, *, target: int | None = None) -> float:
        return float(np.sqrt(np.mean(self.scoring.by_unit(self.error**2 + self.variance, target=target))))

    def inside(self, *, target: int | None = None) -> float:
        """Share of batches inside the tolerance at every target, or at one."""
        scoring = self.scoring
        is_asked = np.full(len(self.error), True) if target is None else scoring.target == target
        return share_of_normal_units(
            self.error[is_asked], np.sqrt(self.variance[is_asked]), scoring.tolerance,
            scoring.check_weight[is_asked], scoring.unit[is_asked], scoring.target[is_asked],
        )  # fmt: skip

    def over(self, limit: float, *, target: int | None = None) -> float:
        """Share of readings that are too high by more than `limit`."""
        above = share_beyond(self.error, np.sqrt(self.variance), limit)
        return float(self.scoring.by_unit(above, target=target).mean())

    def over_temperature(self) -> tuple[TemperatureRow, ...]:
        """Errors against mean concrete temperature; empty where no site range is scored."""
        return temperature_table(
            self.error,
            self.variance,
            check_target=self.scoring.target,
            check_temperature_c=self.drawn.check_temperature_c,
            target_ages_h=self.settings.target.ages_h,
            tolerance=self.scoring.tolerance,
        )


def fresh_look(
    population: Population, settings: Settings, choice: RatedChoice, *, ages_h: tuple[float, ...] = ()
) -> FreshLook:
    """Draw fresh batches and calibrate each by the choice.

    Parameters
    ----------
    ages_h
        Further ages to draw, for what more breaks would tell [h].

    Raises
    ------
    InputError
        Where most drawn batches have no strength at a target.
    """
    drawn = draw_cells(
        population,
        settings,
        n_batches=N_POPULATIONS * PER_POPULATION,
        per_population=PER_POPULATION,
        seed=FRESH_SEED,
        ages_h=(*choice.schedule.ages_h, *ages_h),
        maturities=(choice.maturity,),
    )
    cells = drawn.cells
    positions = [int(np.argmin(np.abs(cells.ages_h - age))) for age in choice.schedule.ages_h]
    choices = choice_set(cells.ages_h, [(positions, choice.schedule.specimens)])
    joint = Joint(choice.curve, choice.weighting, 0, choice.maturity)
    alone = choices.alone(0)
    swept = sweep_sets(cells, alone.set_members, alone.set_n_ages, joint)
    return FreshLook(
        drawn=drawn,
        settings=settings,
        scoring=Scoring.of(cells, settings.target),
        choices=choices,
        joint=joint,
        error=swept.error[0],
        variance=variance_with(swept.contribution, alone.specimens)[0],
    )


def own_batch_of(look: FreshLook, apparent_rms: float) -> OwnBatchVerdict:
    """A new batch calibrated by the choice and read on its own concrete; no bound is told."""
    rms = look.rms()
    return OwnBatchVerdict(
        apparent_rms=apparent_rms,
        nested_rms=rms,
        bootstrap_rms=None,
        bootstrap_terms=0,
        is_bootstrap_exact=False,
        rms_upper_95=None,
        rms_measured=rms,
        nested_p80_abs=_quantile_abs(look, 0.8),
        within_tolerance=look.inside(),
        within_tolerance_lower_95=None,
        within_tolerance_lower_95_free=None,
        over_predicted_any=look.over(0.0),
        over_predicted_beyond_tolerance=look.over(look.scoring.tolerance),
        is_below_resolution=False,
    )


def targets_of(look: FreshLook, pairs: PairErrors | None) -> tuple[TargetVerdict, ...]:
    """The same for each target alone."""
    return tuple(
        TargetVerdict(
            age_h=age_h,
            nested_rms=look.rms(target=t),
            rms_upper_95=None,
            within_tolerance=look.inside(target=t),
            over_predicted_beyond_tolerance=look.over(look.scoring.tolerance, target=t),
            next_batch_rms=None if pairs is None else _rms_of(pairs, pairs.target == t),
        )
        for t, age_h in enumerate(look.settings.target.ages_h)
    )


def pairs_of(look: FreshLook) -> PairErrors | None:
    """The curve of every fresh batch read on the others of its population."""
    return pair_errors(look.drawn.cells, look.scoring, look.choices, 0, look.joint)


def next_batch_of(look: FreshLook, pairs: PairErrors) -> NextBatchVerdict:
    """A later pour of the same mix, read off the curve of one trial batch; no bound is told."""
    own = look.rms()
    rms = max(_rms_of(pairs, np.ones(len(pairs.error), dtype=bool)), own)
    between = (rms**2 - own**2) / 2.0
    sd = pair_deviation(pairs)
    tolerance = look.scoring.tolerance
    return NextBatchVerdict(
        rms=rms,
        rms_upper_95=None,
        within_tolerance=share_of_normal_units(pairs.error, sd, tolerance, pairs.weight, pairs.pair, pairs.target),
        within_tolerance_lower_95=None,
        over_predicted_any=float(pairs.weight @ share_beyond(pairs.error, sd, 0.0)),
        over_predicted_beyond_tolerance=float(pairs.weight @ share_beyond(pairs.error, sd, tolerance)),
        between_batch_cv=float(np.sqrt(between)),
        rms_by_trial_batches=trial_batches(own**2, own, between),
        basis="population",
    )


def pair_deviation(pairs: PairErrors) -> FloatArray:
    """What the specimens' scatter adds to each pair: the level holds it, the error of true means does not."""
    return np.asarray(np.sqrt(np.maximum(pairs.level - pairs.error**2, 0.0)))


def _rms_of(pairs: PairErrors, own: FloatArray) -> float:
    mean = float(np.average(pairs.level[own], weights=pairs.weight[own]))
    return float(np.sqrt(max(mean, 0.0)))


def _quantile_abs(look: FreshLook, share: float) -> float:
    """Quantile of the absolute error over batches, conditions and specimens."""
    from scipy.special import ndtri

    nodes = ndtri((np.arange(_NODES) + 0.5) / _NODES)
    drawn = np.abs(look.error[:, None] + np.sqrt(np.maximum(look.variance, 0.0))[:, None] * nodes)
    return float(np.quantile(drawn, share))
