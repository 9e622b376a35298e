"""Fresh records and later pours of invented concretes, standard-cured, with their truth.

A programme is some earlier batches, three specimens at every age, and pours that break a few specimens early. Its
truth is the law's, or the law's bent so that no curve follows it, or moved at every age of every batch.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from planner.maturity import maturity_at
from planner.mixed_model import PriorBatches
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from scenarios.catalogue import RUNWAY_PANELS, TUNNEL_SEGMENTS, Scenario
from scenarios.draws import draw_batches, within_test_cv

USUAL_Q = MaturitySetting("equivalent age", 5000.0)
STANDARD_C = 20.0
N_RECORDED = 3  # specimens of the earlier batches at every age
MOST_EARLY = 2  # at one early age
SEED = 4242

Bend = Callable[[FloatArray, np.random.Generator], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """A concrete, and how its truth is bent away from the scenario's law."""

    name: str
    scenario: Scenario
    targets_h: tuple[float, ...]
    early: dict[int, tuple[tuple[tuple[float, int], ...], ...]]  # specimens: for each target its (age, count)
    bend: Bend = lambda maturity_h, _rng: np.ones_like(maturity_h)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Concrete:
    """Batches of a law, all broken; every programme takes its own."""

    law: Law
    ages_h: FloatArray  # (n_ages,)
    cv: FloatArray  # (n_ages,)
    maturity_h: FloatArray  # (n_batches, n_ages)
    truth_mpa: FloatArray  # (n_batches, n_ages)
    recorded_mpa: FloatArray  # means of the recorded specimens, (n_batches, n_ages)
    early_mpa: FloatArray  # single early specimens, (n_batches, n_ages, MOST_EARLY)

    def column(self, age_h: float) -> int:
        """Position of an age."""
        return int(np.flatnonzero(self.ages_h == age_h)[0])

    def records(self, batches: FloatArray) -> PriorBatches:
        """What a laboratory knows of some batches."""
        mean = self.recorded_mpa[batches]
        return PriorBatches(
            mean_mpa=mean,
            n_specimens=np.full(mean.shape, float(N_RECORDED)),
            maturity_h=self.maturity_h[batches],
            cv=self.cv,
        )


def concrete_of(law: Law, n_batches: int) -> Concrete:
    """Cast and break batches."""
    ages_h = np.array(law.scenario.standard_ages_h, dtype=np.float64)
    batches = draw_batches(law.scenario, n_batches, SEED)
    times_h, temperatures_c = batches.readings_c("standard")
    maturity = np.array([maturity_at(ages_h, times_h, row, USUAL_Q, continued_c=STANDARD_C) for row in temperatures_c])
    rng = np.random.default_rng((SEED, 1))
    truth = batches.true_strength("standard", ages_h) * law.bend(maturity, rng)
    cv = within_test_cv(law.scenario, ages_h)

    def broken(n_specimens: int) -> FloatArray:
        scatter = rng.standard_normal((*truth.shape, n_specimens))
        return np.asarray(truth[:, :, None] * (1.0 + cv[:, None] * scatter))

    return Concrete(
        law=law,
        ages_h=ages_h,
        cv=cv,
        maturity_h=maturity,
        truth_mpa=truth,
        recorded_mpa=broken(N_RECORDED).mean(axis=2),
        early_mpa=broken(MOST_EARLY),
    )


def _wavy(maturity_h: FloatArray, _rng: np.random.Generator) -> FloatArray:
    """A plateau and a second rise in every batch alike: 8 % up and down over the logarithm of age."""
    return np.exp(0.08 * np.sin(3.0 * np.log(maturity_h)))


def _heavy_tailed(maturity_h: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Every age of every batch departs by 3 %, Student's t with 3 degrees of freedom."""
    return np.exp(0.03 / np.sqrt(3.0) * rng.standard_t(3, maturity_h.shape))


def _crossing(maturity_h: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Some batches gain early what they lack later: 5 % each way, turning at a day."""
    turn = np.tanh(np.log(maturity_h / 24.0))
    return np.exp(0.05 * rng.standard_normal((len(maturity_h), 1)) * turn)


def _runway(name: str, bend: Bend | None = None, **law_changes: float) -> Law:
    scenario = replace(RUNWAY_PANELS, law=replace(RUNWAY_PANELS.law, **law_changes))
    # the breaks at 8 h come after the first target and serve the second alone
    early = {
        0: ((), ()),
        1: (((4.0, 1),), ((4.0, 1),)),
        2: (((4.0, 2),), ((4.0, 2),)),
        4: (((4.0, 2),), ((4.0, 2), (8.0, 2))),
    }
    law = Law(name=name, scenario=scenario, targets_h=(6.0, 24.0), early=early)
    return law if bend is None else replace(law, bend=bend)


DEMO = _runway("demo")
LAWS = (
    DEMO,
    _runway("one slow batch in ten", slow_batch_share=0.1, slow_batch_rate=0.6),
    _runway("twice the spread", ultimate_cv=0.14, share_cv=0.10, rate_cv=0.20, set_cv=0.16),
    _runway("t-distributed departures", bend=_heavy_tailed),
    _runway("no curve: wavy", bend=_wavy),
    _runway("no curve: crossing", bend=_crossing),
    Law(
        name="tunnel segments, 18 h",
        scenario=TUNNEL_SEGMENTS,
        targets_h=(18.0,),
        early={0: ((),), 1: (((10.0, 1),),), 2: (((10.0, 2),),), 4: (((10.0, 2), (14.0, 2)),)},
    ),
)
