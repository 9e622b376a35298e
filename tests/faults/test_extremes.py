"""Inputs at the edge of what is allowed: the figures stay figures, or one clear message says why not."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.terms.plan.settings import Budget, ChoiceLimits, MaturityGrid, Plan, Prior, Settings, Target
from planner.terms.problems import InputError, NoScheduleError
from planner.terms.records import Break, CuringRecord, Records
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.results.recommended.recommendation import Recommendation

AGES_H = (6.0, 12.0, 24.0, 72.0, 168.0, 672.0)
NOT_NEGATIVE = (
    "rms",
    "mean_abs",
    "p95_abs",
    "score",
    "cost",
    "within",
    "over_predicted",
    "efficiency",
    "p80_abs",
    "cv",
)
SHARES = ("within_tolerance", "over_predicted", "inclusion", "sign_flip_p")
UNKNOWN_IS_NAN = {"cost"}  # NaN where no costs are given


def strength(age_h: float, *, final_mpa: float = 50.0, rate: float = 0.05) -> float:
    return final_mpa * rate * max(age_h - 2.0, 0.01) / (1.0 + rate * max(age_h - 2.0, 0.01))


def study(
    *,
    n_batches: int = 5,
    n_each: int = 3,
    ages_h: tuple[float, ...] = AGES_H,
    scatter: float = 0.04,
    spread: float = 0.08,
    scale: float = 1.0,
    seed: int = 1,
    **changes: Any,
) -> Plan:
    """An invented study; `changes` are settings."""
    generator = np.random.default_rng(seed)
    breaks = []
    for batch in range(n_batches):
        level = scale * math.exp(spread * generator.standard_normal())
        for age_h in ages_h:
            for _ in range(n_each):
                mpa = level * strength(age_h) * max(1.0 + scatter * generator.standard_normal(), 0.05)
                breaks.append(
                    Break(
                        batch=f"B{batch}",
                        mix="M",
                        curing="standard",
                        age_h=age_h,
                        tested_h=age_h,
                        strength_mpa=mpa,
                    )
                )
    given: dict[str, Any] = {
        "target": Target(ages_h=(24.0,), tolerance=0.10),
        "choices": ChoiceLimits(ages_h=ages_h, fewest_ages=3, most_ages=5, specimens_per_age=(2, 3)),
        "budget": Budget(specimens=12),
        "prior": Prior(standard_curing_c=20.0),
    }
    return Plan(settings=Settings(**{**given, **changes}), records=Records(breaks=tuple(breaks)))


def with_strengths(plan: Plan, change: Any) -> Plan:
    breaks = tuple(replace(item, strength_mpa=change(item)) for item in plan.records.breaks)
    return replace(plan, records=replace(plan.records, breaks=breaks))


def hot_and_cold(plan: Plan) -> Plan:
    """Half of the batches in frost, half in steam."""
    elapsed = np.arange(0.0, 700.0, 10.0)
    curing = tuple(
        CuringRecord(
            batch=batch, curing="standard", placement="", elapsed_h=elapsed,
            temperature_c=np.full(elapsed.shape, -15.0 if at % 2 else 85.0),
        )
        for at, batch in enumerate(plan.records.batches)
    )  # fmt: skip
    return replace(plan, records=replace(plan.records, curing_records=curing))


def target(**given: Any) -> Target:
    return Target(**{"ages_h": (24.0,), "tolerance": 0.10, **given})


PLANS = {
    "no scatter at all": lambda: study(scatter=0.0),
    "neither scatter nor spread": lambda: study(scatter=0.0, spread=0.0),
    "one batch": lambda: study(n_batches=1),
    "two batches": lambda: study(n_batches=2),
    "single specimens": lambda: study(n_each=1),
    "replicates that scatter by half": lambda: study(scatter=0.5),
    "batches a hundredfold apart": lambda: study(spread=2.5),
    "a thousandth of a MPa": lambda: study(scale=1e-4),
    "as strong as steel": lambda: study(scale=20.0),
    "a strict tolerance": lambda: study(target=target(tolerance=1e-6)),
    "a loose tolerance": lambda: study(target=target(tolerance=0.999999)),
    "every batch wanted": lambda: study(target=target(assurance=0.999999)),
    "hardly a batch wanted": lambda: study(target=target(assurance=1e-6)),
    "danger a million times": lambda: study(target=target(over_prediction_weight=1e6)),
    "danger and the worst target": lambda: study(
        target=target(ages_h=(24.0, 672.0), combine="worst", over_prediction_weight=100.0)
    ),
    "weights far apart": lambda: study(target=target(ages_h=(12.0, 672.0), weights=(1e-9, 1e9))),
    "minutes to decades": lambda: study(
        ages_h=(0.5, 2.5, 24.0, 672.0, 87_600.0), choices=ChoiceLimits(
            ages_h=(0.5, 2.5, 24.0, 672.0, 87_600.0), fewest_ages=3, most_ages=5, specimens_per_age=(2, 3)
        ),
    ),
    "the same strength at every age": lambda: with_strengths(study(), lambda _item: 30.0),
    "strength that falls": lambda: with_strengths(study(), lambda item: 60.0 / item.age_h**0.2),
    "strength that jumps at one age": lambda: with_strengths(
        study(), lambda item: item.strength_mpa * (30.0 if item.age_h == 72.0 else 1.0)
    ),
    "one batch that never sets": lambda: with_strengths(
        study(), lambda item: 1e-6 * item.strength_mpa if item.batch == "B0" else item.strength_mpa
    ),
    "frost and steam": lambda: hot_and_cold(study()),
    "constants at their ends": lambda: hot_and_cold(
        study(maturity=MaturityGrid(equivalent_age_q_k=(1.0, 50_000.0), datum_c=(-40.0, 15.0)))
    ),
    "one choice only": lambda: study(
        choices=ChoiceLimits(ages_h=AGES_H, fewest_ages=3, most_ages=3, specimens_per_age=(2, 2),
                             required_ages_h=(6.0, 72.0, 672.0)),
        budget=Budget(specimens=6),
    ),
    "scatter stated as none": lambda: study(prior=Prior(standard_curing_c=20.0, within_test_cv=1e-9)),
    "scatter stated as nearly all": lambda: study(prior=Prior(standard_curing_c=20.0, within_test_cv=0.99)),
    "spread stated as huge": lambda: study(n_batches=1, prior=Prior(standard_curing_c=20.0, between_batch_cv=5.0)),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANS)
def test_every_figure_is_a_figure(name: str) -> None:
    plan = PLANS[name]()
    try:
        advice = recommend(plan, n_draws=40, workers=1)
    except (InputError, NoScheduleError) as error:
        said = str(error)
    else:
        said = ""
    if said:
        assert len(said) > 40
        return
    figures = list(figures_in(advice)) + list(judged_rows(advice.choices))
    assert len(figures) > 50
    for where, value in figures:
        key = where.rsplit(".", 1)[-1].split("[")[0]
        assert math.isfinite(value), f"{where} is {value}"
        if key.startswith(NOT_NEGATIVE) and "difference" not in key and "dropped" not in key:
            assert value >= 0, f"{where} is {value}"
        if key.startswith(SHARES):
            assert 0 <= value <= 1, f"{where} is {value}"
    assert 1 <= sum(advice.recommended.schedule.specimens) <= plan.settings.budget.specimens
    assert set(advice.recommended.schedule.ages_h) <= set(plan.settings.choices.ages_h)


def figures_in(value: Any, where: str = "told") -> Iterator[tuple[str, float]]:
    """Every number of a result with its place."""
    if isinstance(value, bool | str) or value is None:
        return
    if isinstance(value, int | float | np.number):
        yield where, float(value)
    elif is_dataclass(value) and not isinstance(value, ChoiceTable):
        for field in fields(value):
            yield from figures_in(getattr(value, field.name), f"{where}.{field.name}")
    elif isinstance(value, tuple | list):
        for at, item in enumerate(value):
            yield from figures_in(item, f"{where}[{at}]")


def judged_rows(table: ChoiceTable) -> Iterator[tuple[str, float]]:
    """Figures of the schedules that could be judged; the others have empty cells throughout."""
    is_judged = np.isfinite(table.score)
    assert is_judged.any()
    for field in fields(table):
        column = getattr(table, field.name)
        if isinstance(column, np.ndarray) and column.dtype.kind == "f" and field.name not in UNKNOWN_IS_NAN:
            for at in np.flatnonzero(is_judged).tolist():
                yield f"choices.{field.name}[{at}]", float(column[at])


@pytest.mark.parametrize("name", ["no scatter at all", "two batches", "replicates that scatter by half"])
def test_the_answer_is_no_nonsense_where_it_can_be_known(name: str) -> None:
    advice: Recommendation = recommend(PLANS[name](), n_draws=40, workers=1)
    assert advice.recommended.error.rms < 1.0
    assert advice.best.score <= min(choice.score for choice in (advice.recommended, *advice.next_best)) * (1 + 1e-9)
    assert any(caution.code for caution in advice.cautions)
