"""Hours to a strength, errors in hours, and errors against the maturity constant, from the tables by hand."""

from __future__ import annotations

from math import exp, inf

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from planner.pipeline import recommend
from planner.read import load_plan
from tests.oracle.plain.candidates import Limits
from tests.oracle.plain.maturities import Clock
from tests.oracle.plain.programmes import judge, own_readings, readings
from tests.oracle.plain.tables import read_specimens, read_temperatures
from tests.oracle.small_plans import AGES_H, Asked, by_hand, invent, write_plan

PROGRAMME = {"seed": 8, "n_batches": 5, "target_h": 12.0, "n_each": 3}
WAITING = Asked(
    Limits(AGES_H, 3, 4, (2, 3), 9, shares=(0.5, 0.5)), (13.0, 24.0), q_k=(5000.0,), datum_c=(0.0,),
    curves=("logarithmic",), strengths_mpa=(15.0, 25.0),
)  # fmt: skip
AGES = Asked(
    Limits(AGES_H, 3, 4, (2, 3), 9), (12.0,), q_k=(4000.0, 6000.0), datum_c=(-5.0, 0.0), curves=("logarithmic",)
)


@pytest.fixture(scope="module")
def waiting(tmp_path_factory):
    folder = tmp_path_factory.mktemp("waiting")
    invent(folder, **PROGRAMME)
    return folder, recommend(load_plan(write_plan(folder, WAITING)), n_draws=50, workers=1)


def lines(folder, stated, asked=WAITING):
    """Intercept and slope over the logarithm of maturity for every batch, and the maturities that all span."""
    choice = stated.recommended
    specimens = [item for item in read_specimens(folder / "breaks.csv") if item.curing == "standard"]
    clock = Clock(read_temperatures(folder / "temperatures.csv"), 20.0)
    constants = next(
        one
        for one in asked.constants
        if choice.maturity.constant == (one.q_k if choice.maturity.method == "equivalent age" else one.datum_c)
    )
    found, first_h, last_h = [], 0.0, inf
    for batch in dict.fromkeys(item.batch for item in specimens):
        at, means = [], []
        for age in choice.schedule.ages_h:
            cell = [item for item in specimens if item.batch == batch and item.age_h == age]
            at.append(np.mean([clock.of(item, constants) for item in cell]))
            means.append(np.mean([item.strength_mpa for item in cell]))
        root = 1.0 / np.array(means) if choice.weighting == "relative" else np.ones(len(means))
        design = np.column_stack([np.ones(len(at)), np.log(at)])
        found.append(np.linalg.lstsq(design * root[:, None], np.array(means) * root, rcond=None)[0])
        first_h, last_h = max(first_h, at[0]), min(last_h, at[-1])
    return np.array(found), (first_h, last_h), constants


def gained(constants, temperature_c):
    """Hours at 20 C in one hour at a temperature."""
    if constants.q_k is not None:
        return exp(-constants.q_k * (1 / (temperature_c + 273.15) - 1 / 293.15))
    return (temperature_c - constants.datum_c) / (20.0 - constants.datum_c)


def test_hours_to_each_strength(waiting):
    folder, found = waiting
    fits, (first_h, last_h), constants = lines(folder, found)
    level, slope = fits.mean(axis=0)  # the mean of lines is a line
    factor = found.honest.safe_reading_factor
    assert factor > 1.0
    assert [(wait.strength_mpa, wait.n_batches) for wait in found.waiting.waits] == [(15.0, 5), (25.0, 5)]
    for wait in found.waiting.waits:
        assert [at.temperature_c for at in wait.hours] == [10.0, 20.0, 30.0]
        for at in wait.hours:
            for name, wanted_mpa in (
                ("earliest_h", wait.strength_mpa / factor),
                ("likely_h", wait.strength_mpa),
                ("safe_h", wait.strength_mpa * factor),
            ):
                maturity_h = exp((wanted_mpa - level) / slope)
                is_inside = first_h <= maturity_h <= last_h
                hours = maturity_h / gained(constants, at.temperature_c)
                assert getattr(at, name) == (pytest.approx(hours, rel=1e-5) if is_inside else None)


def test_errors_in_hours(waiting):
    folder, found = waiting
    fits, _, constants = lines(folder, found)
    study, m = by_hand(folder, WAITING).study, WAITING.constants.index(constants)
    slopes = dict(zip(study.units, fits[:, 1], strict=True))
    for at, (wait, verdict) in enumerate(zip(found.waiting.waits, found.honest.per_target, strict=True)):
        # S = a + b ln M, so S' = b / M: an error e of strength f is worth e f M / b hours.
        worth, weights = [], []
        for check in study.checks:
            if study.targets_h[check.target] == WAITING.targets_h[at]:
                worth.append(wait.strength_mpa * check.maturity_h[m] / slopes[check.batch])
                weights.append(check.weight)
        per_share = np.sqrt(np.average(np.square(worth), weights=weights))
        assert wait.own_rms_h == pytest.approx(verdict.nested_rms * per_share, rel=1e-4)
        # On later pours: where the line of one batch reads f, less where the other reaches it, over the errors there.
        lines_of = dict(zip(study.units, fits, strict=True))
        hours, shares, weights = [], [], []
        for check in study.checks:
            if study.targets_h[check.target] == WAITING.targets_h[at]:
                for other, (level, slope) in lines_of.items():
                    if other != check.batch:
                        there_h = check.maturity_h[m]
                        hours.append(exp((wait.strength_mpa - level) / slope) - there_h)
                        shares.append((level + slope * np.log(there_h)) / wait.strength_mpa - 1.0)
                        weights.append(check.weight)
        worth_h = np.sqrt(
            np.average(np.square(hours), weights=weights) / np.average(np.square(shares), weights=weights)
        )
        assert wait.later_rms_h == pytest.approx(verdict.next_batch_rms * worth_h, rel=1e-4)


def test_what_is_told_of_each_strength_is_that_of_the_tables(waiting):
    folder, found = waiting
    for wait in found.waiting.waits:
        ages = []
        specimens = [item for item in read_specimens(folder / "breaks.csv") if item.curing == "standard"]
        for batch in dict.fromkeys(item.batch for item in specimens):
            means = [
                np.mean([item.strength_mpa for item in specimens if (item.batch, item.age_h) == (batch, age)])
                for age in AGES_H
            ]
            growth = PchipInterpolator(np.log(AGES_H), means)
            ages.append(exp(growth.solve(wait.strength_mpa, extrapolate=False)[0]))
        assert wait.age_h == pytest.approx(np.median(ages), rel=0.005)  # told to three digits
        assert wait.left_out == ()


@pytest.fixture(scope="module")
def constants(tmp_path_factory):
    folder = tmp_path_factory.mktemp("constants")
    invent(folder, **PROGRAMME)
    return recommend(load_plan(write_plan(folder, AGES)), n_draws=50, workers=1), by_hand(folder, AGES)


def test_errors_against_the_constant(constants):
    found, candidates = constants
    choice, seen, n_units = found.recommended, 0, len(candidates.study.units)
    (schedule,) = (
        one
        for one in candidates.schedules
        if (one.ages_h, one.counts) == (choice.schedule.ages_h, choice.schedule.specimens)
    )
    for joint, (curve, weighting, m) in enumerate(candidates.joints):
        if (curve, weighting) != (choice.curve, choice.weighting):
            continue
        one = AGES.constants[m]
        method, value = ("equivalent age", one.q_k) if one.q_k is not None else ("temperature-time", one.datum_c)
        (study,) = (item for item in found.constants.methods if item.method == method)
        (point,) = (item for item in study.points if item.constant == value)
        own, later = own_readings(candidates, schedule, joint, ()), readings(candidates, schedule, joint)
        assert point.own_rms == pytest.approx(judge(own, 1, 0.10, n_units).rms, rel=2e-5)
        assert point.later_rms == pytest.approx(judge(later, 1, 0.10, n_units).rms, rel=2e-5)
        seen += 1
    assert seen == 6  # four that the plan lists and two between them


def test_constants_that_are_about_as_good(constants):
    found, _ = constants
    for study in found.constants.methods:
        judged = {
            point.constant: point.later_rms if found.constants.judged_on == "later pour" else point.own_rms
            for point in study.points
        }
        good = [value for value, rms in judged.items() if rms <= min(judged.values()) + 0.0025]
        assert study.about_as_good == (min(good), max(good))


def test_hours_under_the_ends(constants):
    found, _ = constants
    (study,) = (item for item in found.constants.methods if item.hours)
    assert study.method == found.recommended.maturity.method
    low, high = study.about_as_good
    for row in study.hours:
        for hours, value in (
            (row.lowest_h, low), (row.chosen_h, found.recommended.maturity.constant), (row.highest_h, high)
        ):  # fmt: skip
            rate = (
                exp(-value * (1 / (row.temperature_c + 273.15) - 1 / 293.15))
                if study.method == "equivalent age"
                else (row.temperature_c - value) / (20.0 - value)
            )
            assert hours == pytest.approx(row.age_h / rate, rel=1e-9)


def test_conditions_together_are_the_whole(constants):
    """Every batch of the tables has its companions cool, every second one warm too."""
    found, _ = constants
    assert found.constants.conditions == ("site-cured (cool)", "site-cured (warm)")
    for study in found.constants.methods:
        for point in study.points:
            assert all(part is not None and part > 0 for part in point.by_condition)
