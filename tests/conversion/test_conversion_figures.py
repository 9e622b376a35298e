"""Figures of one conversion worked out by hand: drift, how far new batches lie off, the band, what is usual."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import stats

from planner.conversion import estimated_conversion
from planner.conversion.conversion import Conversion
from planner.conversion.pairs import Pairs
from planner.conversion.stated_conversions import (
    BAND,
    N_LINES,
    conversion_figures,
    conversion_for,
    usual_strength,
)
from planner.terms.plan.settings import Budget, ChoiceLimits, Settings, Target
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.records import Records
from tests.conversion.invented_pairs import CUBE, CYLINDER, broken, drawn, pairs

SETTINGS = Settings(
    target=Target(ages_h=(24.0,), tolerance=0.1),
    choices=ChoiceLimits(ages_h=(12.0, 24.0, 72.0), fewest_ages=2, most_ages=2, specimens_per_age=(2, 2)),
    budget=Budget(specimens=6),
)


def told(found: Pairs) -> Conversion:
    conversion = estimated_conversion(CUBE, CYLINDER, found)
    assert conversion is not None
    return conversion


def residuals(found: Pairs, conversion: Conversion) -> np.ndarray:
    """Logarithms of converted over measured, by the line of all pairs."""
    line = conversion.line
    return np.log(line.factor * found.from_mpa**line.exponent / found.to_mpa)


@cache
def drifting(seed: int) -> tuple[Pairs, Conversion]:
    base = drawn(seed, n_batches=5, levels=[30.0, 30.0, 30.0], factor=0.8, between=0.02, cv=0.02)
    found = replace(base, to_mpa=base.to_mpa * np.exp(-0.02 * np.log(base.age_h)))
    return found, told(found)


@pytest.mark.parametrize("seed", range(8))
def test_a_drift_is_the_mean_slope_where_a_t_test_tells_it(seed: int) -> None:
    """Slopes by numpy's straight lines, the test by scipy's; no chance: both are worked out from the same pairs."""
    found, conversion = drifting(seed)
    left, log_age = residuals(found, conversion), np.log(found.age_h)
    batches = np.array(found.batch)
    slopes = [np.polyfit(log_age[batches == name], left[batches == name], 1)[0] for name in found.batches]
    if stats.ttest_1samp(slopes, 0.0).pvalue < 0.05:
        assert conversion.drift == pytest.approx(np.mean(slopes), rel=1e-9)
        assert conversion.drift_about == pytest.approx(log_age.mean(), rel=1e-12)
        (figure,) = [conversion_figures(conversion, Records(breaks=()), ()).drift_per_decade]
        assert figure == pytest.approx(np.mean(slopes) * np.log(10.0), rel=1e-9)
    else:
        assert (conversion.drift, conversion.drift_about) == (0.0, 0.0)
        assert conversion_figures(conversion, Records(breaks=()), ()).drift_per_decade is None


def test_the_seeds_of_the_drift_hold_both_outcomes() -> None:
    drifts = [drifting(seed)[1].drift for seed in range(8)]
    assert 2 <= np.count_nonzero(drifts) <= 6


def test_batches_of_one_age_tell_no_drift() -> None:
    found = pairs([20.0, 30.0, 40.0], [16.0, 25.0, 31.0], sd_x=[0.3] * 3, sd_y=[0.3] * 3, batch="abc")
    assert told(found).drift == 0.0


FURTHER_OFF = {
    "steady": (5, 1.0, 0.05),
    "once": (39, 1.0, 0.05),
    "by little": (11, 1.0, 0.01),
    "curved": (7, 1.2, 0.02),
}


def laboratory(seed: int, exponent: float, between: float) -> Pairs:
    factor = 0.8 if exponent == 1.0 else 0.5
    levels = [20.0, 45.0] if exponent == 1.0 else [15.0, 30.0, 60.0]
    return drawn(seed, n_batches=5, levels=levels, factor=factor, exponent=exponent, between=between, cv=0.02)


@pytest.mark.parametrize("name", FURTHER_OFF)
def test_the_variance_grows_where_batches_left_out_lie_further_off(name: str) -> None:
    found = laboratory(*FURTHER_OFF[name])
    conversion = told(found)
    judged = conversion.judged[conversion.line.form]
    squares, said = [], []
    for held in found.batches:
        line = judged.left_out[held]
        at = [i for i, batch in enumerate(found.batch) if batch == held]
        off = [
            (line.factor * found.from_mpa[i] ** line.exponent / found.to_mpa[i] - 1.0) ** 2
            - (found.to_sd_mpa[i] / found.to_mpa[i]) ** 2
            - (conversion.line.exponent * found.from_sd_mpa[i] / found.from_mpa[i]) ** 2
            for i in at
        ]
        squares.append(np.mean(off))
        said.append(np.mean([line.variance(found.from_mpa[i]) for i in at]))
    wanted = max(1.0, float(np.mean(squares) / np.mean(said)))
    assert conversion.inflation == pytest.approx(wanted, rel=1e-6)
    assert (wanted > 1.2) == (name != "steady")
    assert (conversion.form == "power law") == (name == "curved")


@pytest.mark.parametrize(("factor", "exponent", "n_parameters"), [(0.8, 1.0, 1), (0.5, 1.2, 2)])
def test_the_band_is_students_of_the_batches_that_are_left(factor: float, exponent: float, n_parameters: int) -> None:
    found = drawn(
        2, n_batches=5, levels=[15, 30, 60], factor=factor, exponent=exponent, between=0.02, cv=0.01
    )  # fmt: skip
    conversion = told(found)
    assert (conversion.form == "power law") == (n_parameters == 2)
    figures = conversion_figures(conversion, Records(breaks=()), (24.0,))
    wide = stats.t.ppf(0.95, 5 - n_parameters)
    assert BAND == 0.90
    assert [line.from_mpa for line in figures.table] == pytest.approx(
        np.linspace(found.from_mpa.min(), found.from_mpa.max(), N_LINES)
    )
    for line in figures.table:
        assert line.to_mpa == pytest.approx(conversion.line.factor * line.from_mpa**conversion.line.exponent)
        half = wide * np.sqrt(float(conversion.variance(line.from_mpa, float(np.median(found.age_h)))))
        assert np.log(line.upper_mpa / line.to_mpa) == pytest.approx(half, rel=1e-9)
        assert np.log(line.to_mpa / line.lower_mpa) == pytest.approx(half, rel=1e-9)
    if n_parameters == 2:
        assert figures.power == (conversion.line.factor, conversion.line.exponent)
    ratio = conversion.judged["ratio"].whole
    assert (figures.ratio, figures.ratio_se) == pytest.approx(
        (ratio.factor, ratio.factor * np.sqrt(ratio.covariance[0, 0]))
    )
    assert figures.span_mpa == (found.from_mpa.min(), found.from_mpa.max())


def test_residuals_of_an_age_are_means_of_batches() -> None:
    """Two pairs of one batch at an age count as one; of one batch alone no error is known."""
    found = pairs(
        [20.0, 22.0, 30.0, 40.0, 41.0], [16.0, 18.0, 25.0, 31.0, 33.0], sd_x=[0.3] * 5, sd_y=[0.3] * 5, batch="aabcc"
    )
    found = replace(found, age_h=np.array([24.0, 24.0, 24.0, 24.0, 72.0]))
    conversion = told(found)
    off = conversion.judged[conversion.line.form].residual
    early, late = conversion_figures(conversion, Records(breaks=()), ()).by_age
    each = [(off[0] + off[1]) / 2, off[2], off[3]]
    assert (early.age_h, early.n_batches, late.age_h, late.n_batches) == (24.0, 3, 72.0, 1)
    assert early.mean == pytest.approx(np.mean(each))
    assert early.standard_error == pytest.approx(stats.sem(each))
    assert (late.mean, late.standard_error) == (pytest.approx(off[4]), None)


def test_what_batches_usually_show_is_that_of_the_site_where_it_was_broken() -> None:
    standard = [*broken("a", CUBE, 24.0, 20.0, 22.0), *broken("b", CUBE, 24.0, 30.0), *broken("a", CUBE, 72.0, 99.0)]
    other = broken("a", CYLINDER, 24.0, 50.0)
    site = [*broken("a", CUBE, 24.0, 18.0, curing="site"), *broken("b", CUBE, 24.0, 24.0, 28.0, curing="site")]
    assert usual_strength(Records(breaks=(*standard, *other)), CUBE, 24.0) == pytest.approx((21.0 + 30.0) / 2)
    assert usual_strength(Records(breaks=(*standard, *other, *site)), CUBE, 24.0) == pytest.approx((18.0 + 26.0) / 2)
    assert usual_strength(Records(breaks=tuple(standard)), CUBE, 48.0) is None


def test_without_pairs_a_stated_factor_serves_and_with_pairs_it_does_not() -> None:
    factor = SpecimenKind(geometry=CUBE, factor=0.75, factor_cv=0.04)
    kinds = (factor, SpecimenKind(geometry=CYLINDER))
    settings = replace(SETTINGS, target=replace(SETTINGS.target, geometry=CYLINDER), specimens=kinds)
    conversion = conversion_for(Records(breaks=()), settings, factor)
    assert conversion is not None
    assert (conversion.form, float(conversion.convert(40.0))) == ("stated factor", 30.0)
    assert conversion.variance(40.0, 24.0) == pytest.approx(0.04**2)
    for half in ({"factor": None}, {"factor_cv": None}):
        assert conversion_for(Records(breaks=()), settings, replace(factor, **half)) is None
    breaks = [
        one
        for batch, mpa in (("a", 20.0), ("b", 30.0), ("c", 40.0))
        for geometry, share in ((CUBE, 1.0), (CYLINDER, 0.8))
        for one in broken(batch, geometry, 24.0, 0.99 * share * mpa, 1.01 * share * mpa)
    ]
    paired = conversion_for(Records(breaks=tuple(breaks)), settings, factor)
    assert paired is not None
    assert (paired.form, paired.n_batches) == ("ratio", 3)


def test_errors_of_every_form_and_what_decides_stand_by_the_first_target() -> None:
    base = drawn(4, n_batches=6, levels=[30.0, 30.0, 30.0], factor=0.8, between=0.02, cv=0.005)
    conversion = told(replace(base, to_mpa=base.to_mpa * np.exp(-0.05 * np.log(base.age_h))))  # errors differ by age
    breaks = (*broken("a", CUBE, 24.0, 20.0), *broken("a", CUBE, 168.0, 45.0))
    figures = conversion_figures(conversion, Records(breaks=breaks), (24.0, 48.0, 168.0))
    assert dict(figures.rms_left_out) == {form: judged.rms for form, judged in conversion.judged.items()}
    assert [(age, mpa) for age, mpa, _ in figures.deciding] == [(24.0, 20.0), (168.0, 45.0)]  # at 48 h nobody broke
    errors = [np.sqrt(float(conversion.variance(mpa, age))) for age, mpa, _ in figures.deciding]
    assert [error for *_, error in figures.deciding] == pytest.approx(errors)
    assert errors[1] > 1.2 * errors[0]
    assert [now for _, now, _ in figures.more_pairs] == pytest.approx([errors[0]] * 3)
    line = figures.table[0]
    half = stats.t.ppf(0.95, 6 - 1) * np.sqrt(float(conversion.variance(line.from_mpa, 24.0)))
    assert np.log(line.upper_mpa / line.to_mpa) == pytest.approx(half, rel=1e-9)
