"""How often the stated bounds hold on redrawn runway records: ``python -m tests.statistics.coverage``.

The nine batches of the runway programme are drawn again and again, a schedule is recommended from each, and
what is said of it is held against its true errors on fresh batches. The plan is a coarser one than the
demo's: 6 h alone, four specimens at every age, equivalent age only.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np

from planner.pipeline import recommend
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import MaturityGrid, Plan
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import draw_records
from tests.statistics.broken import Broken, fit_of
from tests.statistics.recording import recorded
from tests.statistics.runway import fresh_broken, opening_plan, plan_with, settings_of

JUDGE_SEED = 909
FIRST_SEED = 50_000
ASSURANCE = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What was said after one redraw, and what is true."""

    own_rms: float  # true, own batch, of the recommended choice
    own_bound: float
    nested_rms: float
    bootstrap_rms: float
    apparent_rms: float
    next_rms: float  # true, next batch
    next_stated: float
    next_bound: float
    inside: float  # true share of batches inside the tolerance, own batch
    inside_lower: float
    next_inside: float
    next_inside_lower: float
    safe_share: float  # true share of later readings that the safe reading factor covers


def coarse_plan() -> Plan:
    """The opening plan with fewer counts and constants, so that one recommendation takes seconds."""
    plan = opening_plan()
    settings = replace(
        plan.settings,
        choices=replace(plan.settings.choices, specimens_per_age=(4, 4), most_ages=6),
        maturity=MaturityGrid(equivalent_age_q_k=(4000.0, 5000.0, 6000.0), datum_c=()),
        compare=(),
    )
    return replace(plan, settings=settings)


@cache
def judge_of(n_fresh: int) -> Broken:
    """The fresh batches that every redraw is judged on."""
    return fresh_broken(n_fresh, JUDGE_SEED, settings_of(coarse_plan()))


def inside_of(errors: FloatArray, *, tolerance: float) -> float:
    """Share of batches inside, when a third lies on both nights, a third on cool and a third on warm ones."""
    is_inside = np.abs(errors) <= tolerance
    return float(np.mean([is_inside.all(axis=1), is_inside[:, 0], is_inside[:, 1]]))


def redraw(seed: int, *, n_fresh: int) -> Held:
    """Draw nine batches, recommend, and judge what was said."""
    plan = plan_with(draw_records(RUNWAY_PANELS, FIRST_SEED + seed), coarse_plan())
    tolerance = plan.settings.target.tolerance
    result = recommend(plan, n_draws=50, workers=1)
    judge = judge_of(n_fresh)
    own, later = result.honest.own_batch, result.honest.next_batch
    factor = result.honest.safe_reading_factor
    assert own is not None
    assert own.rms_upper_95 is not None
    assert own.bootstrap_rms is not None
    assert own.within_tolerance_lower_95 is not None
    assert later is not None
    assert later.rms_upper_95 is not None
    assert later.within_tolerance_lower_95 is not None
    assert factor is not None
    choice = result.recommended
    errors = judge.errors([choice.schedule], fit_of(choice))[0]
    next_errors = judge.next_errors(choice)
    return Held(
        own_rms=_root(errors),
        own_bound=own.rms_upper_95,
        nested_rms=own.nested_rms,
        bootstrap_rms=own.bootstrap_rms,
        apparent_rms=own.apparent_rms,
        next_rms=_root(next_errors),
        next_stated=later.rms,
        next_bound=later.rms_upper_95,
        inside=inside_of(errors, tolerance=tolerance),
        inside_lower=own.within_tolerance_lower_95,
        next_inside=float(np.mean(np.abs(next_errors) <= tolerance)),
        next_inside_lower=later.within_tolerance_lower_95,
        safe_share=float(np.mean(1.0 + next_errors <= factor)),
    )


def print_summary(held: Sequence[Held]) -> None:
    """Coverages, and ratios of what was said to what is true."""

    def column(name: str) -> FloatArray:
        return np.array([getattr(row, name) for row in held])

    def share(holds: FloatArray) -> str:
        mean = float(np.mean(holds))
        return f"{mean:.3f} +- {np.sqrt(mean * (1.0 - mean) / len(held)):.3f}"

    def covered(bound: str, truth: str) -> str:
        return share(column(bound) >= column(truth))

    print("after +- the Monte-Carlo error of the redraws")
    print(f"{len(held)} redraws of nine batches; true RMS, own batch, median {np.median(column('own_rms')):.4f}")
    print(f"own-batch rms_upper_95 holds in {covered('own_bound', 'own_rms')}")
    print(f"next-batch rms_upper_95 holds in {covered('next_bound', 'next_rms')}")
    print(f"own-batch within_tolerance_lower_95 holds in {covered('inside', 'inside_lower')}")
    print(f"next-batch within_tolerance_lower_95 holds in {covered('next_inside', 'next_inside_lower')}")
    print(f"safe reading factor covers {ASSURANCE:.0%} in {share(column('safe_share') >= ASSURANCE)}")
    pairs = (
        ("nested", "nested_rms", "own_rms"), ("bootstrap", "bootstrap_rms", "own_rms"),
        ("apparent", "apparent_rms", "own_rms"), ("next batch", "next_stated", "next_rms"),
        ("own bound", "own_bound", "own_rms"), ("next bound", "next_bound", "next_rms"),
    )  # fmt: skip
    print("stated over true: median, 10th and 90th percentile; root of mean squares over root of mean squares")
    for label, stated, truth in pairs:
        low, middle, high = np.quantile(column(stated) / column(truth), [0.1, 0.5, 0.9])
        pooled = _root(column(stated)) / _root(column(truth))
        print(f"{label:<12}{middle:6.2f}  {low:.2f} to {high:.2f}  {pooled:.2f}")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print its summary."""
    parser = argparse.ArgumentParser(description="Coverage of the stated bounds on redrawn runway records.")
    parser.add_argument("--redraws", type=int, default=200, help="seeded redraws (200)")
    parser.add_argument("--fresh", type=int, default=2000, help="fresh batches that judge (2000)")
    parser.add_argument("--workers", type=int, default=2, help="processes (2)")
    given = parser.parse_args(arguments)
    judge_of(given.fresh)
    with ProcessPoolExecutor(given.workers) as pool:
        held = list(pool.map(partial(redraw, n_fresh=given.fresh), range(given.redraws), chunksize=5))
    print_summary(held)


def _root(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


if __name__ == "__main__":
    with recorded(" ".join(["python -m tests.statistics.coverage", *sys.argv[1:]])):
        main()
