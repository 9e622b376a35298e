"""Bands of a first break's mean by quantiles, their actions by asking one mean at a time, and the replay done again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from planner.mixed_model import estimate_growth_prior
from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.terms.records import GivenRecords, Records
from planner.terms.results.after_casting.continuing import IfThenTable
from planner.verdict.answers.continuing import first_mean_bands, pour_if_then
from planner.verdict.answers.continuing.beginnings import rescored
from planner.verdict.answers.continuing.if_then_tables import if_then
from planner.verdict.answers.continuing.trial_batch import continue_trial
from tests.verdict.answers.continuing.test_continue_trial import N_BATCHES, begun, searched
from tests.verdict.answers.early_breaks_by_hand import POURS, TARGETS_H, ByHand, Cast, level_by_hand, small_plan


def tables() -> tuple[IfThenTable, IfThenTable]:
    advice = searched(is_on_site=True)[2].if_then
    assert advice is not None
    assert advice.trial is not None
    assert advice.pour is not None
    return advice.trial, advice.pour


def law(hand: ByHand, age_h: float, n: int) -> tuple[float, float, float]:
    """Typical maturity, mean and standard deviation of the log mean of a new batch."""
    prior = estimate_growth_prior(hand.prior_of(hand.batches))
    maturity = float(np.exp(np.mean([np.log(hand.standard[name][age_h][0]) for name in hand.batches])))
    value, rows = prior.at([maturity])
    variance = float((rows @ prior.spread @ rows.T)[0, 0]) * (1 + 1 / N_BATCHES)
    variance += float((prior.cv_at([maturity]) ** 2 / n + prior.departure_variance([maturity]))[0])
    return maturity, float(value[0]), float(np.sqrt(variance))


@pytest.mark.parametrize("which", [0, 1])
def test_bands_follow_one_another_and_hold_every_sound_batch(which: int) -> None:
    table = tables()[which]
    hand = ByHand(searched(is_on_site=True)[0])
    _, middle, sd = law(hand, table.age_h, table.n_specimens)
    assert table.expected_mpa == pytest.approx(np.exp(middle), rel=1e-6)
    assert table.bands[0].low_mpa is None
    assert table.bands[-1].high_mpa is None
    for band, after in zip(table.bands[:-1], table.bands[1:], strict=True):
        assert band.high_mpa == after.low_mpa
        assert band.action != after.action
    for band in table.bands:
        low = -np.inf if band.low_mpa is None else (np.log(band.low_mpa) - middle) / sd
        high = np.inf if band.high_mpa is None else (np.log(band.high_mpa) - middle) / sd
        assert band.sound_share == pytest.approx(np.diff(stats.t(N_BATCHES - 1).cdf([low, high]))[0], abs=1e-7)
    assert sum(band.sound_share for band in table.bands) == pytest.approx(1.0)
    assert sorted(name for band in table.bands for name in band.batches) == hand.batches


@pytest.mark.parametrize("which", [0, 1])
def test_strangers_stop_at_the_ends(which: int) -> None:
    table = tables()[which]
    _, middle, sd = law(ByHand(searched(is_on_site=True)[0]), table.age_h, table.n_specimens)
    reach = np.sqrt(stats.f(1, N_BATCHES - 1).ppf(0.99))
    first, last = table.bands[0], table.bands[-1]
    assert (first.action, last.action) == ("stop", "stop")
    assert first.high_mpa is not None
    assert last.low_mpa is not None
    step = 12 / 400  # of the means that are tried, in standard deviations
    assert (np.log(first.high_mpa) - middle) / sd == pytest.approx(-reach, abs=step)
    assert (np.log(last.low_mpa) - middle) / sd == pytest.approx(reach, abs=step)
    assert table.can_tell_strangers
    deficit = -np.log(1 - table.noticed_deficit) / sd
    assert stats.ncf(1, N_BATCHES - 1, deficit**2).sf(reach**2) == pytest.approx(0.9, abs=1e-5)


def test_odd_pours_are_asked_for_one_specimen_more() -> None:
    _, pour = tables()
    _, middle, sd = law(ByHand(searched(is_on_site=True)[0]), pour.age_h, pour.n_specimens)
    assert [band.action for band in pour.bands] == ["stop", "add", "go on", "add", "stop"]
    within = pour.bands[2]
    assert within.low_mpa is not None
    assert (np.log(within.low_mpa) - middle) / sd == pytest.approx(-stats.t(N_BATCHES - 1).ppf(0.975), abs=0.03)
    assert within.sound_share == pytest.approx(0.95, abs=0.01)


def test_a_pour_too_weak_to_break_is_broken_later() -> None:
    plan, search, found = searched(is_on_site=True)
    stronger = replace(plan.settings, choices=replace(plan.settings.choices, least_strength_mpa=14.0))
    moved = if_then(replace(search, plan=replace(plan, settings=stronger)), found.recommended, found.early_breaks)
    assert moved is not None
    assert moved.pour is not None
    first = moved.pour.bands[0]
    assert first.action == "move"
    assert first.high_mpa == pytest.approx(14.0, rel=0.01)


def test_every_band_of_the_trial_batch_says_what_one_mean_is_answered() -> None:
    plan, search, stated = searched(is_on_site=True)
    trial, _ = tables()
    maturity, middle, sd = law(ByHand(plan), trial.age_h, trial.n_specimens)
    for band in trial.bands:
        low = middle - 6 * sd if band.low_mpa is None else np.log(band.low_mpa)
        high = middle + 6 * sd if band.high_mpa is None else np.log(band.high_mpa)
        for share in (0.1, 0.5, 0.9):
            strength = float(np.exp(low + share * (high - low)))
            given = begun((trial.age_h, strength, trial.n_specimens))
            breaks = tuple(replace(item, maturity=maturity) for item in given.records.breaks)
            found = continue_trial(search, stated, replace(given, records=Records(breaks=breaks)), cost=lambda _: None)
            assert found.action == band.action


def test_replay_of_the_trial_batch_is_that_of_searches_without_each_batch() -> None:
    plan, search, stated = searched(is_on_site=True)
    trial, _ = tables()
    hand = ByHand(plan)
    table, units = rescored(search, stated.recommended, {trial.age_h: trial.n_specimens}) or pytest.fail("not judged")
    rows = [table.schedule(row) for row in range(len(table.choices))]
    planned, followed, changed, counts = [], [], 0, []
    for column, unit in enumerate(units):
        name = search.cells.unit_names[unit]
        kept = tuple(item for item in plan.records.breaks if item.batch != name)
        records = tuple(item for item in plan.records.curing_records if item.batch != name)
        without = replace(plan, records=replace(plan.records, breaks=kept, curing_records=records))
        maturity, mean, _ = hand.standard[name][trial.age_h]
        given = begun((trial.age_h, mean, trial.n_specimens))
        breaks = tuple(replace(item, maturity=maturity) for item in given.records.breaks)
        found = continue_trial(
            search_of(without, basis_of(without), Work(5, 1, 1, None)),
            stated,
            GivenRecords(file="first.csv", records=Records(breaks=breaks)),
            cost=lambda _: None,
        )
        assert found.remaining is not None
        row = next(
            row
            for row, one in enumerate(rows)
            if (one.ages_h[1:], one.specimens[1:]) == (found.remaining.ages_h, found.remaining.specimens)
        )
        planned.append(table.level[table.planned, column])
        followed.append(table.level[row, column])
        counts.append(rows[row].n_specimens)
        changed += found.action != "go on"
    assert trial.n_batches == N_BATCHES
    assert trial.n_changed == changed
    assert trial.error_planned == pytest.approx(np.sqrt(np.mean(planned)))
    assert trial.error_followed == pytest.approx(np.sqrt(np.mean(followed)))
    assert trial.specimens_planned == rows[table.planned].n_specimens
    assert trial.specimens_followed == pytest.approx(np.mean(counts))


def test_replay_of_pours_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nearly every pour is odd here, so that nearly every one gets its specimen more."""
    monkeypatch.setattr(pour_if_then, "ODD", 0.6)
    plan, search, stated = searched(is_on_site=True)
    found = if_then(search, stated.recommended, stated.early_breaks)
    assert found is not None
    assert found.pour is not None
    assert stated.early_breaks is not None
    assert stated.early_breaks.recommended is not None
    row = stated.early_breaks.rows[stated.early_breaks.recommended]
    hand = ByHand(plan)
    by_age = dict(zip(row.ages_h, row.specimens, strict=True))
    base: Any = tuple(by_age.get(age, 0) for age in POURS.early_ages_h)
    more: Any = tuple(n + (age == row.ages_h[-1]) for age, n in zip(POURS.early_ages_h, base, strict=True))
    planned, followed, n_added = [], [], 0
    for batch in hand.batches:
        others = [name for name in hand.batches if name != batch]
        prior = estimate_growth_prior(hand.prior_of(others))
        maturity, mean, _ = hand.standard[batch][row.ages_h[0]]
        typical = np.exp(np.mean([np.log(hand.standard[name][row.ages_h[0]][0]) for name in others]))
        _, rows = prior.at([typical])
        variance = float((rows @ prior.spread @ rows.T)[0, 0]) * (1 + 1 / len(others))
        variance += float((prior.cv_at([typical]) ** 2 / row.specimens[0] + prior.departure_variance([typical]))[0])
        off = abs(np.log(mean) - prior.at([maturity])[0][0]) / np.sqrt(variance)
        is_odd = off > stats.t(len(others) - 1).ppf(0.7)
        n_added += is_odd
        for plans, levels in ((base, planned), (more if is_odd else base, followed)):
            levels.append(level_by_hand(hand, plans, batch, Cast(0, 0, {})))
    assert 0 < n_added < N_BATCHES
    assert found.pour.n_changed == n_added
    assert found.pour.specimens_followed - found.pour.specimens_planned == pytest.approx(n_added / N_BATCHES)
    assert found.pour.error_planned == pytest.approx(np.sqrt(np.mean(planned)), rel=2e-3)
    assert found.pour.error_followed == pytest.approx(np.sqrt(np.mean(followed)), rel=2e-3)
    assert len(TARGETS_H) == 2


def test_three_batches_lay_nothing_down() -> None:
    plan = small_plan(n_batches=3, is_on_site=False, n_broken=4)
    search = search_of(plan, basis_of(plan), Work(5, 1, 1, None))
    advice = searched()[2]
    assert if_then(search, advice.recommended, None) is None


def test_without_early_breaks_there_is_no_table_of_pours() -> None:
    _, search, stated = searched(is_on_site=True)
    found = if_then(search, stated.recommended, None)
    assert found is not None
    assert found.pour is None
    assert found.trial == tables()[0]


def test_means_of_next_to_no_sound_batches_make_no_band_of_their_own() -> None:
    """Under one in a hundred between two like answers; an end is no such place, and no more are two different sides."""

    def after(actions: str, shares: list[float]) -> str:
        names: Any = {"g": "go on", "m": "move", "s": "stop", "a": "add"}
        tried = [first_mean_bands.Tried(names[letter]) for letter in actions]
        return "".join(one.action[0] for one in first_mean_bands.without_slivers(tried, np.array(shares)))

    assert after("ggmgg", [0.4, 0.2, 0.009, 0.2, 0.191]) == "ggggg"
    assert after("ggmmg", [0.4, 0.2, 0.006, 0.006, 0.388]) == "ggmmg"
    assert after("mgg", [0.001, 0.5, 0.499]) == "mgg"
    assert after("sag", [0.005, 0.001, 0.994]) == "sag"
