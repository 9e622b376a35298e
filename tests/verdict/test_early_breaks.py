"""What each pour breaks, worked out again pour by pour from the records themselves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np
import pytest
from scipy import stats

from planner.evidence.within_test_scatter import within_test_scatter
from planner.fitting.single import fit_curve
from planner.maturity import maturity_at
from planner.mixed_model import CellMeans, PriorBatches, estimate_growth_prior, read_pour
from planner.mixed_model.carried_prior import prior_of
from planner.pipeline import recommend
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.settings import Costs, MaturityGrid, Plan
from planner.terms.problems import InputError
from planner.terms.records import Break, Records
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommendation import Recommendation
from planner.verdict.wording.early_break_words import early_break_sentences
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import draw_records
from tests.statistics.runway import opening_plan, plan_with

SETTING = MaturitySetting("equivalent age", 5000.0)
TARGETS_H = (6.0, 24.0)
AGES_H = (4.0, 6.0, 8.0, 12.0, 24.0, 72.0)
POURS = Pours(early_ages_h=(4.0, 8.0), specimens_per_age=(1, 1), most_specimens=2, number=40)
PLANS = {0: [(0, 0)], 1: [(1, 0), (0, 1)], 2: [(1, 1)]}
COSTS = Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0)


def small_plan(*, n_batches: int, is_on_site: bool, n_broken: int = 3, seed: int = 5) -> Plan:
    """A runway plan of few choices with fresh records."""
    scenario = replace(RUNWAY_PANELS, n_companions=n_broken, standard_ages_h=AGES_H)
    plan = plan_with(draw_records(scenario, seed, n_batches), opening_plan())
    if not is_on_site:
        kept = tuple(item for item in plan.records.breaks if item.curing == "standard")
        plan = replace(plan, records=Records(breaks=kept, curing_records=plan.records.curing_records))
    settings = plan.settings
    return replace(
        plan,
        settings=replace(
            settings,
            target=replace(settings.target, ages_h=TARGETS_H, tolerance=0.10, assurance=0.90, weights=()),
            choices=replace(
                settings.choices, ages_h=AGES_H, fewest_ages=3, most_ages=4, specimens_per_age=(2, 2),
                required_ages_h=(),
            ),
            curves=("logarithmic",),
            maturity=MaturityGrid(equivalent_age_q_k=(5000.0,), datum_c=()),
            compare=(),
            costs=COSTS,
            laboratory=None,
            pours=POURS,
        ),
    )  # fmt: skip


@cache
def answered(n_batches: int, is_on_site: bool, n_broken: int) -> tuple[Plan, Recommendation]:
    plan = small_plan(n_batches=n_batches, is_on_site=is_on_site, n_broken=n_broken)
    return plan, recommend(plan, n_draws=5, workers=1)


def answer_of(n_batches: int, is_on_site: bool, n_broken: int) -> EarlyBreaks:
    told = answered(n_batches, is_on_site, n_broken)[1].early_breaks
    assert told is not None
    return told


@dataclass(frozen=True)
class Truth:
    """One check of one batch."""

    target_h: float
    maturity_h: float
    strength_mpa: float
    n_specimens: int


class ByHand:
    """Cells of every batch and what they are checked against, straight from the records."""

    def __init__(self, plan: Plan) -> None:
        self.scatter = within_test_scatter(plan.records.breaks, plan.settings.prior)
        self.records = {(r.batch, r.curing, r.placement): r for r in plan.records.curing_records}
        cells: dict[tuple[str, str, str, float], list[Break]] = defaultdict(list)
        for item in plan.records.breaks:
            cells[item.batch, item.curing, item.placement, item.age_h].append(item)
        self.batches = sorted({key[0] for key in cells})
        self.standard: dict[str, dict[float, tuple[float, float, int]]] = {name: {} for name in self.batches}
        self.checks: dict[str, list[Truth]] = {name: [] for name in self.batches}
        for (batch, curing, placement, age), items in cells.items():
            mean = float(np.mean([item.strength_mpa for item in items]))
            maturity = self._maturity(batch, curing, placement, age)
            if curing == "standard":
                self.standard[batch][age] = (maturity, mean, len(items))
            elif age in TARGETS_H:
                self.checks[batch].append(Truth(age, maturity, mean, len(items)))
        for batch in self.batches:
            for target in TARGETS_H:
                if not any(check.target_h == target for check in self.checks[batch]):
                    self.checks[batch].append(Truth(target, *self.standard[batch][target]))

    def _maturity(self, batch: str, curing: str, placement: str, age_h: float) -> float:
        record = self.records[batch, curing, placement]
        continued = 20.0 if curing == "standard" else None
        return float(
            maturity_at(np.array([age_h]), record.elapsed_h, record.temperature_c, SETTING, continued_c=continued)[0]
        )

    def cv(self, age_h: float) -> float:
        return float(self.scatter.cv_at(np.array([age_h]))[0])

    def prior_of(self, names: list[str]) -> PriorBatches:
        values = np.array([[self.standard[name][age] for age in AGES_H] for name in names])
        return PriorBatches(
            mean_mpa=values[:, :, 1], n_specimens=values[:, :, 2], maturity_h=values[:, :, 0],
            cv=self.scatter.cv_at(np.array(AGES_H)),
        )  # fmt: skip

    def early(self, batch: str, plan: tuple[int, int], target_h: float) -> list[tuple[float, float, int, int]]:
        """Maturity, mean, specimens of the cell and of the plan for each early break before the target."""
        ages = zip(POURS.early_ages_h, plan, strict=True)
        return [(*self.standard[batch][age], n) for age, n in ages if n and age < target_h]


Reader = Callable[[str, str, list[tuple[float, float, int, int]], float], tuple[float, float]]


def records_reader(hand: ByHand, *, without: str = "") -> Reader:
    """Log reading and its variance from the records without the pour, and without another batch."""

    def read(batch: str, _trial: str, early: list[tuple[float, float, int, int]], at_h: float) -> tuple[float, float]:
        prior = estimate_growth_prior(hand.prior_of([name for name in hand.batches if name not in (batch, without)]))
        cells = None
        if early:
            columns = np.array(early, dtype=float)
            cells = CellMeans(maturity_h=columns[:, 0], mean_mpa=columns[:, 1], n_specimens=columns[:, 3])
        reading = read_pour(prior, [at_h], early=cells)
        return float(reading.log_mpa[0]), float(reading.log_sd[0] ** 2)

    return read


def levels_by_hand(
    hand: ByHand, plan: tuple[int, int], batch: str, read: Reader, trial: str, *, without: str = ""
) -> list[dict[str, float]]:
    """Level, error, stated variance and weight of every check of a pour, slopes by differences."""
    rows = []
    for check in hand.checks[batch]:
        early = hand.early(batch, plan, check.target_h)
        log_mpa, stated = read(batch, trial, early, check.maturity_h)
        scatter_plan = scatter_cell = 0.0
        for i, (maturity, mean, n_cell, n_plan) in enumerate(early):
            moved = [*early]
            moved[i] = (maturity, mean * np.exp(1e-5), n_cell, n_plan)
            slope = (read(batch, trial, moved, check.maturity_h)[0] - log_mpa) / 1e-5
            prior = estimate_growth_prior(
                hand.prior_of([name for name in hand.batches if name not in (batch, without)])
            )
            variance = float(prior.cv_at([maturity])[0]) ** 2
            scatter_plan += slope**2 * variance / n_plan
            scatter_cell += slope**2 * variance / n_cell
        error = float(np.exp(log_mpa)) / check.strength_mpa - 1.0
        noise = hand.cv(check.target_h) ** 2 / check.n_specimens
        n_alike = sum(other.target_h == check.target_h for other in hand.checks[batch])
        rows.append(
            {
                "level": error**2 + scatter_plan - scatter_cell - noise, "variance": scatter_plan, "error": error,
                "stated": stated, "weight": 0.5 / n_alike, "target": check.target_h,
            }
        )  # fmt: skip
    return rows


def picked_without(hand: ByHand, plans: list[tuple[int, int]], batch: str) -> tuple[int, int]:
    """The plan that reads the other pours best, from records that hold neither pour nor this batch."""
    read = records_reader(hand, without=batch)

    def level(plan: tuple[int, int], other: str) -> float:
        told = levels_by_hand(hand, plan, other, read, "", without=batch)
        return sum(one["weight"] * one["level"] for one in told)

    return min(plans, key=lambda plan: np.mean([level(plan, other) for other in hand.batches if other != batch]))


@pytest.mark.parametrize(("n_batches", "is_on_site", "n_broken"), [(3, True, 3), (5, True, 3), (4, False, 4)])
def test_figures_of_reading_the_records_by_hand(n_batches: int, is_on_site: bool, n_broken: int) -> None:
    plan, _ = answered(n_batches, is_on_site, n_broken)
    told = answer_of(n_batches, is_on_site, n_broken)
    hand = ByHand(plan)
    read = records_reader(hand)
    for row in told.rows:
        plans = PLANS[row.n_specimens]
        checks = {key: levels_by_hand(hand, key[0], key[1], read, "") for key in product(plans, hand.batches)}
        level = {key: sum(one["weight"] * one["level"] for one in rows) for key, rows in checks.items()}
        picked = {
            batch: min(plans, key=lambda one, b=batch: np.mean([level[one, o] for o in hand.batches if o != b]))  # type: ignore[misc]
            for batch in hand.batches
        }
        if n_batches > 3 and row.reading == "records":  # what a fold chooses by has not learnt from its pour
            picked = {batch: picked_without(hand, plans, batch) for batch in hand.batches}
        mean = np.mean([level[picked[batch], batch] for batch in hand.batches])
        flat = [one for batch in hand.batches for one in checks[picked[batch], batch]]
        weight = np.array([one["weight"] for one in flat])
        floor = sum(weight * [one["variance"] for one in flat]) / n_batches
        rms = np.sqrt(max(mean, floor))
        if n_batches == 3 or row.reading != "records":
            assert row.rms_records == pytest.approx(rms, rel=2e-4)
        if row.reading == "records":
            assert row.rms == pytest.approx(rms, rel=2e-4)
        whole = min(plans, key=lambda one: np.mean([level[one, batch] for batch in hand.batches]))
        if row.reading != "records":
            continue
        assert (row.ages_h, row.specimens) == (
            tuple(age for age, n in zip(POURS.early_ages_h, whole, strict=True) if n), tuple(n for n in whole if n)
        )  # fmt: skip
        assert row.is_below_resolution == (mean < floor)
        assert row.rms_upper_95 == pytest.approx(rms * np.sqrt(n_batches / stats.chi2(n_batches).ppf(0.05)), rel=2e-4)
        error = np.array([one["error"] for one in flat])
        scaled = error * rms / np.sqrt(np.sum(weight * error**2) / n_batches)
        assert row.within_tolerance == pytest.approx(np.sum(weight * (np.abs(scaled) <= 0.10)) / n_batches)
        assert row.over_predicted_beyond_tolerance == pytest.approx(np.sum(weight * (scaled > 0.10)) / n_batches)
        stated = np.array([one["stated"] for one in flat])
        wider = max(1.0, rms**2 / (np.sum(weight * stated) / n_batches))
        assert row.widening == pytest.approx(wider, rel=2e-4)
        of_target = [np.array([one["target"] == target for one in flat]) for target in TARGETS_H]
        sd = max(np.sqrt(wider * np.average(stated[one], weights=weight[one])) for one in of_target)
        law = stats.t(n_batches - 2 + 0.5 / 0.7**2)
        assert row.reads_within == pytest.approx(np.exp(law.ppf(0.95) * sd) - 1.0, rel=2e-4)
        assert row.safe_reading_factor == pytest.approx(np.exp(law.ppf(0.90) * sd), rel=2e-4)


def test_what_pours_are_read_by_is_estimated_from_every_batch() -> None:
    told, hand = answer_of(5, True, 3), ByHand(answered(5, True, 3)[0])
    model = told.model
    assert model is not None
    prior = estimate_growth_prior(hand.prior_of(hand.batches))
    assert (model.scale_sd, model.rate_sd, model.departure_sd) == pytest.approx(
        (prior.scale_sd, prior.rate_sd, prior.departure_sd), rel=1e-6
    )
    maturities = [cell[0] for cells in hand.standard.values() for cell in cells.values()]
    assert model.span_h == pytest.approx((min(maturities), max(maturities)))
    assert model.widening == max(row.widening for row in told.rows)
    assert (model.n_batches, model.reading, model.trials) == (5, told.rows[0].reading, ())
    assert model.n_freedom == pytest.approx(5 - 1 + 0.5 / 0.7**2)
    middle = [np.mean([hand.standard[name][age][0] for name in hand.batches]) for age in AGES_H]
    assert [knot.maturity_h for knot in model.knots] == pytest.approx(
        [np.exp(np.mean(np.log([hand.standard[name][age][0] for name in hand.batches]))) for age in AGES_H]
    )
    assert [knot.cv for knot in model.knots] == pytest.approx([hand.cv(age) for age in AGES_H])
    carried = prior_of(model).at(middle)[0]
    assert carried == pytest.approx(prior.at(middle)[0], rel=1e-9)


def test_trial_curve_rescaled_by_hand() -> None:
    """Every other batch as the trial batch, its curve shifted by the weighted mean of the log ratios."""
    plan, result = answered(5, True, 3)
    told, hand, choice = answer_of(5, True, 3), ByHand(plan), result.recommended
    curves = {}
    for name in hand.batches:
        cells = np.array([hand.standard[name][age][:2] for age in choice.schedule.ages_h])
        curves[name] = fit_curve(choice.curve, cells[:, 0], cells[:, 1], weighting=choice.weighting)

    for row in (told.rows[0], told.rows[2]):
        early_plan = PLANS[row.n_specimens][0]
        level = variance = 0.0
        for batch, check in [(b, c) for b in hand.batches for c in hand.checks[b]]:
            weight = 0.5 / sum(other.target_h == check.target_h for other in hand.checks[batch]) / 5
            ages = [a for a, n in zip(POURS.early_ages_h, early_plan, strict=True) if n and a < check.target_h]
            precision = np.array([1.0 / hand.cv(age) ** 2 for age in ages])
            share = precision / precision.sum() if ages else precision
            squares = []
            for trial in [name for name in hand.batches if name != batch]:
                ratio = [
                    np.log(hand.standard[batch][a][1] / curves[trial].predict([hand.standard[batch][a][0]])[0])
                    for a in ages
                ]
                log_read = np.log(curves[trial].predict([check.maturity_h])[0]) + float(share @ np.array(ratio))
                squares.append((np.exp(log_read) / check.strength_mpa - 1.0) ** 2)
            v_plan = sum(s**2 * hand.cv(a) ** 2 for s, a in zip(share, ages, strict=True))
            v_cell = sum(s**2 * hand.cv(a) ** 2 / 3 for s, a in zip(share, ages, strict=True))
            level += weight * (np.mean(squares) + v_plan - v_cell - hand.cv(check.target_h) ** 2 / check.n_specimens)
            variance += weight * v_plan
        assert row.rms_rescaled == pytest.approx(np.sqrt(max(level, variance)), rel=1e-9)


def test_money_of_the_early_breaks() -> None:
    rows = answer_of(5, True, 3).rows
    assert [row.cost_per_pour for row in rows] == [0.0, 55.0, 110.0]
    assert [row.cost_of_pours for row in rows] == [0.0, 2200.0, 4400.0]
    plan = small_plan(n_batches=3, is_on_site=True)
    stated = replace(plan, settings=replace(plan.settings, costs=replace(COSTS, pour_break=30.0)))
    told = recommend(stated, n_draws=5, workers=1).early_breaks
    assert told is not None
    assert [row.cost_of_pours for row in told.rows] == [0.0, 1200.0, 2400.0]


def test_the_fewest_that_read_within_the_tolerance_are_advised() -> None:
    told = answer_of(5, True, 3)
    assert told.recommended is not None
    for tolerance, place in ((told.rows[1].reads_within + 1e-6, 1), (max(r.reads_within for r in told.rows) + 1e-6, 0)):
        plan = small_plan(n_batches=5, is_on_site=True)
        wider = replace(plan.settings, target=replace(plan.settings.target, tolerance=tolerance))
        found = recommend(replace(plan, settings=wider), n_draws=5, workers=1).early_breaks
        assert found is not None
        assert (found.recommended, found.is_enough) == (place, True)
        assert "good enough for" in found.sentences[2]


def test_out_of_reach_the_fewest_near_the_best_are_advised_and_the_sentence_says_so() -> None:
    plan = small_plan(n_batches=5, is_on_site=True)
    strict = replace(plan.settings, target=replace(plan.settings.target, tolerance=0.02, immaterial=0.001))
    found = recommend(replace(plan, settings=strict), n_draws=5, workers=1).early_breaks
    assert found is not None
    assert found.recommended is not None
    assert not found.is_enough
    near = [place for place, row in enumerate(found.rows) if row.rms <= min(r.rms for r in found.rows) + 0.001]
    assert found.recommended == near[0]
    assert "No early breaks that the plan allows reach 2.0 %" in found.sentences[2]


def test_the_rival_is_told_first() -> None:
    told = answer_of(5, True, 3)
    none = told.rows[0]
    assert f"reads a later pour {100 * none.rms_records:.1f} % off" in told.sentences[0]
    assert none.rms_rescaled is not None
    assert f"recommended schedule {100 * none.rms_rescaled:.1f} %" in told.sentences[0]
    assert answer_of(3, True, 3).rows[0].rms_rescaled is None


def test_without_early_breaks_in_the_plan_nothing_is_said() -> None:
    plan = small_plan(n_batches=3, is_on_site=True)
    bare = replace(plan, settings=replace(plan.settings, pours=None))
    assert recommend(bare, n_draws=5, workers=1).early_breaks is None


def test_two_batches_and_several_mixes_cannot_judge() -> None:
    two = recommend(small_plan(n_batches=2, is_on_site=True), n_draws=5, workers=1).early_breaks
    assert two is not None
    assert two.rows == ()
    assert "2 batches can be checked and 3 are needed" in two.sentences[0]
    plan = small_plan(n_batches=4, is_on_site=True)
    breaks = tuple(replace(item, mix=f"mix {item.batch}") for item in plan.records.breaks)
    mixed = replace(plan, records=Records(breaks=breaks, curing_records=plan.records.curing_records))
    mixed = replace(mixed, settings=replace(mixed.settings, prior=replace(mixed.settings.prior, hold_out="mix")))
    told = recommend(mixed, n_draws=5, workers=1).early_breaks
    assert told is not None
    assert "several mixes" in told.sentences[0]


def test_early_ages_that_nobody_broke_are_named() -> None:
    plan = small_plan(n_batches=3, is_on_site=True)
    pours = replace(POURS, early_ages_h=(4.0, 5.0))
    told = recommend(replace(plan, settings=replace(plan.settings, pours=pours)), n_draws=5, workers=1).early_breaks
    assert told is not None
    assert any("Early ages not judged: 5 h" in sentence for sentence in told.sentences)
    alone = replace(plan.settings, pours=replace(POURS, early_ages_h=(5.0,)))
    with pytest.raises(InputError, match=r"None of 5 h can be judged.*4 h, 6 h, 8 h"):
        recommend(replace(plan, settings=alone), n_draws=5, workers=1)


def test_money_of_calibration_and_pours_stands_in_a_sentence() -> None:
    plan, told = answered(5, True, 3)
    answer = answer_of(5, True, 3)
    assert answer.recommended is not None
    row = answer.rows[answer.recommended]
    calibration = 0.0 if row.reading == "records" else told.recommended.cost
    assert all(one.cost_of_calibration == calibration for one in answer.rows)
    said = [text for text in answer.sentences if text.startswith("That costs")]
    if row.ages_h:
        each = 55 * row.n_specimens  # 18 + 12 + 25
        assert f"That costs {each} EUR a pour, {40 * each} EUR for 40 pours" in said[0]
        assert ("no trial batch need be cast" in said[0]) == (row.reading == "records")
    trial = replace(row, reading="records and trial", cost_of_calibration=1249.0, ages_h=(4.0,), specimens=(1,))
    words = early_break_sentences((trial,), 0, True, plan.settings, left_out=(), anew=None)
    assert any("beside 1249 EUR for the calibration." in text for text in words)
    assert words[1].startswith("Reading from the records serves while cement")


def test_concrete_too_weak_to_be_broken_early_is_left_out() -> None:
    plan = small_plan(n_batches=6, is_on_site=False, n_broken=4)
    broken = {age: np.mean([i.strength_mpa for i in plan.records.breaks if i.age_h == age]) for age in (4.0, 6.0)}
    least = float(np.mean(list(broken.values())))  # truths at 6 h that are weaker judge nothing, some stay
    weak = replace(plan.settings, choices=replace(plan.settings.choices, least_strength_mpa=least, fewest_ages=3))
    told = recommend(replace(plan, settings=weak), n_draws=5, workers=1).early_breaks
    assert told is not None
    assert all(4.0 not in row.ages_h for row in told.rows)
    assert any("Early ages not judged: 4 h" in sentence for sentence in told.sentences)
