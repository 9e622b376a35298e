"""When site checks are doubted: limits worked out by hand, and how seldom sound pours pass them."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy import stats

from planner.issued_curve.rules.check_oddities import checks_apart, off_by_a_factor, stronger_pours
from planner.issued_curve.rules.site_check import SiteCheck
from tests.issued_curve.checks import site_check

RMS = 0.11


def pours(*logs: float) -> list[SiteCheck]:
    """One check of three companions of 3 % scatter for each pour, by the logarithm of broken over read."""
    return [site_check(exp(value) - 1.0, pour=f"P{place}") for place, value in enumerate(logs, start=1)]


def one_pour(*logs: float) -> list[SiteCheck]:
    return [site_check(exp(value) - 1.0, pour="P1") for value in logs]


def stronger(checks: list[SiteCheck], n_batches: int = 9, n_curves: int = 1) -> list[str]:
    found = stronger_pours(checks, later_rms=RMS, n_batches=n_batches, n_curves=n_curves)
    return [item.batch or f"all {item.n_pours}" for item in found]


@pytest.mark.parametrize("n_pours", [1, 2, 8])
def test_one_pour_is_held_against_student_shared_out_among_the_pours(n_pours: int) -> None:
    # 1 % of files, 8 degrees of freedom; sd of a pour: sqrt(.11^2 + .03^2 / 3)
    limit = stats.t(8).ppf(1 - 0.01 / n_pours) * sqrt(RMS**2 + 0.0003)
    rest = (-0.2,) * (n_pours - 1)
    assert stronger(pours(limit + 1e-6, *rest)) == ["P1"]
    assert stronger(pours(limit - 1e-6, *rest)) == []
    (found,) = stronger_pours(pours(limit + 1e-6, *rest), later_rms=RMS, n_batches=9, n_curves=1)
    assert found.limit == pytest.approx(exp(limit) - 1)
    assert found.excess == pytest.approx(exp(limit + 1e-6) - 1)


@pytest.mark.parametrize(("n_curves", "shared"), [(1, 1 / 2), (2, 1 / 3), (0, 1.0)])
def test_all_pours_together_share_the_part_of_the_curve(n_curves: int, shared: float) -> None:
    sd = sqrt(shared * RMS**2 + (1 - shared) * RMS**2 / 4 + 0.0003 / 4)
    limit = stats.t(8).ppf(0.99) * sd
    assert stronger(pours(*(limit + 1e-6,) * 4), n_curves=n_curves) == ["all 4"]
    assert stronger(pours(*(limit - 1e-6,) * 4), n_curves=n_curves) == []


def test_few_earlier_batches_say_little_of_what_is_too_strong() -> None:
    assert stronger(pours(0.4), n_batches=9) == ["P1"]
    assert stronger(pours(0.4), n_batches=3) == []


def test_weak_pours_are_the_business_of_the_rules() -> None:
    assert stronger(pours(-0.6, -0.6)) == []


def test_the_check_furthest_from_the_others_of_its_pour_is_named() -> None:
    # three checks: sd sqrt(.055^2 + .0003 + .0003 / 2); 1 % two-sided among three checks
    sd = sqrt(0.055**2 + 0.0003 * 1.5)
    limit = stats.norm.ppf(1 - 0.01 / 6) * sd
    for sign in (1, -1):
        (found,) = checks_apart(one_pour(0.1, 0.1, 0.1 + sign * (limit + 1e-6)), later_rms=RMS)
        assert found.ratio == pytest.approx(exp(sign * (limit + 1e-6)))
        assert found.check.companions.difference == pytest.approx(exp(0.1 + sign * (limit + 1e-6)) - 1)
        assert checks_apart(one_pour(0.1, 0.1, 0.1 + sign * (limit - 1e-6)), later_rms=RMS) == []


def test_pours_of_one_check_have_nothing_to_depart_from() -> None:
    assert checks_apart(pours(0.9, -0.9), later_rms=RMS) == []


def test_a_factor_is_beyond_sixteen_tenths_at_every_check_and_about_the_same() -> None:
    assert off_by_a_factor(one_pour(log(1.61), log(1.61))) == {"P1": pytest.approx(1.61)}
    assert off_by_a_factor(one_pour(log(1.61), log(1.59))) == {}
    assert off_by_a_factor(one_pour(-log(1.61), -log(1.61))) == {"P1": pytest.approx(1 / 1.61)}
    assert off_by_a_factor(one_pour(-log(1.61), -log(1.59))) == {}
    assert off_by_a_factor(one_pour(log(2.0), log(2.0 * 1.29)))
    assert off_by_a_factor(one_pour(log(2.0), log(2.0 * 1.31))) == {}


def test_sound_pours_are_seldom_doubted_and_slips_are_found() -> None:
    """2,000 files of four pours with two checks each, by the model that the limits rest on; seed 5.

    Each doubt is meant for 1 % of files; three tests together for 3 % at most. Binomial: beyond 4.2 % once in a
    thousand runs with another seed. Of 500 others 98.6 % of strong
    files and every spoilt check were told: below 97 and 99 % in fewer than 1 of 10^6 runs.
    """
    rng = np.random.default_rng(5)
    n_files, told, told_strong, told_cell = 2000, 0, 0, 0
    for _ in range(n_files):
        curve, pour = rng.normal(0, RMS / sqrt(2)), rng.normal(0, RMS / sqrt(2), 4)
        own = rng.normal(0, sqrt((0.5 * RMS) ** 2 / 2 + 0.0003), (4, 2))
        logs = curve + pour[:, None] + own - own.mean(axis=1, keepdims=True)

        def judged(values) -> bool:
            checks = [site_check(exp(v) - 1, pour=f"P{at}") for at, row in enumerate(values) for v in row]
            strong = stronger_pours(checks, later_rms=RMS, n_batches=400, n_curves=1)
            return bool(strong or checks_apart(checks, later_rms=RMS) or off_by_a_factor(checks))

        told += judged(logs)
        told_strong += judged(logs + log(1.5))
        spoilt = logs.copy()
        spoilt[0, 0] += log(1.5)
        told_cell += judged(spoilt)
    assert told / n_files < 0.042
    assert told_strong / n_files > 0.97
    assert told_cell / n_files > 0.99
