"""Tonight's rule, the lasting rule and another scale: answers known by hand."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest

from planner.issued_curve.rules.lasting import Lasting, SiteVerdict, judge_site_checks
from planner.issued_curve.rules.rescaling import Refusal
from planner.issued_curve.rules.site_check import SiteCheck
from planner.issued_curve.rules.tonight import Ground, Tonight
from tests.issued_curve.checks import site_check

LATER = 0.10
SD = sqrt(0.10**2 + 0.03**2 / 3)  # .1014889


def judged(*checks: SiteCheck, deciding: tuple[float, ...] = (12.0,)) -> SiteVerdict:
    """Checks without a pour of their own are each of another pour."""
    named = [
        check if check.companions.batch else replace(check, companions=replace(check.companions, batch=f"pour {place}"))
        for place, check in enumerate(checks)
    ]
    return judge_site_checks(named, later_rms=LATER, deciding_maturities_h=deciding, tolerance=0.10)


@pytest.mark.parametrize(
    ("check", "tonight", "grounds"),
    [
        (site_check(0.0), Tonight.NO_OBJECTION, ()),
        (site_check(-0.05, required_mpa=15.9), Tonight.NO_OBJECTION, ()),
        (site_check(0.0, required_mpa=16.1), Tonight.WAIT, (Ground.SAFE_READING_BELOW_REQUIRED,)),
        (
            site_check(0.0, safe_mpa=18.0, required_mpa=20.1),
            Tonight.WAIT,
            (Ground.COMPANIONS_BELOW_REQUIRED, Ground.SAFE_READING_BELOW_REQUIRED),
        ),
        (site_check(-0.166), Tonight.NO_OBJECTION, ()),
        (site_check(-0.168), Tonight.WAIT, (Ground.LOW_CHECK,)),
        (site_check(0.0, is_inside=False), Tonight.WAIT, (Ground.OUTSIDE_RANGE,)),
        (site_check(0.0, is_inside=False, safe_mpa=None), Tonight.WAIT, (Ground.OUTSIDE_RANGE,)),
        (site_check(0.0, required_mpa=None), Tonight.NOT_JUDGED, (Ground.NO_REQUIRED_STRENGTH,)),
        (site_check(0.0, safe_mpa=None), Tonight.NOT_JUDGED, (Ground.NO_SAFE_READING,)),
        (
            site_check(-0.2, required_mpa=None),
            Tonight.WAIT,
            (Ground.NO_REQUIRED_STRENGTH, Ground.LOW_CHECK),
        ),
    ],
)
def test_tonight(check: SiteCheck, tonight: Tonight, grounds: tuple[Ground, ...]) -> None:
    # low below -1.644854 deviations of .1014889: 16.694 %
    point = judged(check).points[0]
    assert point.tonight is tonight
    assert point.grounds == grounds


def test_sum_of_shortfalls_by_hand() -> None:
    # z = -1, +.2, -1.5, +3 in deviations: sums .5, 0, 1, 0
    found = judged(*(site_check(z * SD) for z in (-1.0, 0.2, -1.5, 3.0)))
    assert [point.z for point in found.points] == pytest.approx([-1.0, 0.2, -1.5, 3.0])
    assert [point.cusum_low for point in found.points] == pytest.approx([0.5, 0.0, 1.0, 0.0], abs=1e-12)
    assert found.state is Lasting.KEEP
    assert found.alarm_at is None
    assert found.rescaling is None


def test_second_low_check_running_withdraws_the_curve() -> None:
    found = judged(site_check(0.0), site_check(-0.2), site_check(0.0), site_check(-0.2), site_check(-0.2))
    assert [point.lasting for point in found.points] == [*[Lasting.KEEP] * 4, Lasting.RECALIBRATE]
    assert found.alarm_at == 4


def test_sum_over_the_limit_withdraws_the_curve() -> None:
    # z = -1.3 each: the sum rises by .8 and is above 4 at the sixth check; none is low
    found = judged(*(site_check(-1.3 * SD) for _ in range(6)))
    assert found.alarm_at == 5
    assert [point.cusum_low for point in found.points] == pytest.approx([0.8, 1.6, 2.4, 3.2, 4.0, 4.8])
    assert [point.lasting for point in found.points][:5] == [Lasting.KEEP] * 5


def test_flat_ratio_over_the_deciding_maturities_scales_the_curve_down() -> None:
    maturities = (10.0, 14.0, 11.0, 30.0, 13.0, 28.0)
    found = judged(*(site_check(-1.3 * SD, maturity_h=m) for m in maturities), deciding=(12.0, 24.0))
    assert found.state is Lasting.RE_SCALE
    assert found.rescaling is not None
    # weight .01 / (.01 + .0103 / 6) = .853485, mean difference -1.3 x .1014889 = -.131936
    assert found.rescaling.weight == pytest.approx(0.853485, abs=1e-6)
    assert found.rescaling.factor == pytest.approx(1.0 - 0.853485 * 0.131936, abs=1e-6)
    assert found.rescaling.change_over_span == pytest.approx(0.0, abs=1e-12)


def test_scale_is_held_against_how_batches_differ_in_level() -> None:
    checks = [site_check(-1.3 * SD, maturity_h=m, pour=f"P{m}") for m in (10.0, 14.0, 11.0, 30.0, 13.0, 28.0)]
    found = judge_site_checks(
        checks, later_rms=LATER, deciding_maturities_h=(12.0, 24.0), tolerance=0.10, scale_sd=0.05
    )
    assert found.rescaling is not None
    # weight .0025 / (.0025 + .0103 / 6) = .592885
    assert found.rescaling.weight == pytest.approx(0.592885, abs=1e-6)
    assert found.rescaling.factor == pytest.approx(1.0 - 0.592885 * 0.131936, abs=1e-6)
    assert found.state is Lasting.RE_SCALE


def test_only_checks_since_the_sum_left_nought_speak_of_the_scale() -> None:
    sound = [site_check(0.1, maturity_h=m) for m in (9.0, 40.0)]
    low = [site_check(-1.3 * SD, maturity_h=m) for m in (10.0, 14.0, 11.0, 30.0, 13.0, 28.0)]
    found = judged(*sound, *low, deciding=(12.0, 24.0))
    assert found.rescaling is not None
    assert found.rescaling.n_checks == 6
    assert found.rescaling.mean_difference == pytest.approx(-1.3 * SD)


def test_checks_that_do_not_span_what_decides_ask_for_a_new_calibration() -> None:
    found = judged(*(site_check(-1.3 * SD, maturity_h=m) for m in (10, 14, 11, 12, 13, 19)), deciding=(12.0, 24.0))
    assert found.state is Lasting.RECALIBRATE
    assert found.rescaling is not None
    assert found.rescaling.refusal is Refusal.NOT_SPANNED
    assert found.rescaling.factor is None


def test_checks_at_one_maturity_cannot_show_a_flat_ratio() -> None:
    found = judged(*(site_check(-1.3 * SD) for _ in range(6)))
    assert found.rescaling is not None
    assert found.rescaling.refusal is Refusal.NOT_SPANNED
    assert found.rescaling.change_over_span is None


def test_a_ratio_that_changes_with_maturity_asks_for_a_new_calibration() -> None:
    falls = {10.0: -0.06, 11.0: -0.07, 14.0: -0.10, 20.0: -0.16, 28.0: -0.28, 30.0: -0.30}
    found = judged(*(site_check(d, maturity_h=m) for m, d in falls.items()), deciding=(12.0, 24.0))
    assert found.state is Lasting.RECALIBRATE
    assert found.rescaling is not None
    assert found.rescaling.refusal is Refusal.NOT_FLAT


def test_two_low_checks_are_too_few_for_another_scale() -> None:
    found = judged(site_check(-0.2, maturity_h=10.0), site_check(-0.2, maturity_h=30.0), deciding=(12.0, 24.0))
    assert found.rescaling is not None
    assert found.rescaling.refusal is Refusal.TOO_FEW_CHECKS


def test_a_curve_is_never_scaled_up() -> None:
    # withdrawn at two low checks; strong ones afterwards bring the mean above nought, and the curve stays withdrawn
    low = [site_check(-0.2, maturity_h=m) for m in (10.0, 30.0)]
    strong = [site_check(0.35, maturity_h=m) for m in (10.0, 30.0, 12.0, 24.0)]
    found = judged(*low, *strong, deciding=(12.0, 24.0))
    assert found.state is Lasting.RECALIBRATE
    assert found.rescaling is not None
    assert found.rescaling.refusal is Refusal.NOT_LOWER
    assert found.rescaling.mean_difference > 0


def test_checks_outside_the_range_do_not_count_for_the_curve() -> None:
    found = judged(site_check(-0.2), site_check(-0.5, is_inside=False), site_check(0.0), site_check(-0.2))
    assert found.state is Lasting.KEEP
    assert [point.is_counted for point in found.points] == [True, False, True, True]
    assert found.points[1].cusum_low == found.points[0].cusum_low


def test_two_low_checks_with_one_outside_between_them_run() -> None:
    assert judged(site_check(-0.2), site_check(0.0, is_inside=False), site_check(-0.2)).alarm_at == 2


def test_checks_that_miss_what_decides_by_a_quarter_span_it() -> None:
    found = judged(*(site_check(-1.3 * SD, maturity_h=m) for m in (10, 14, 11, 12, 13, 19.3)), deciding=(12.0, 24.0))
    assert found.state is Lasting.RE_SCALE  # 24 / 19.3 = 1.244


def test_checks_of_one_pour_count_as_one() -> None:
    # two low checks of one pour are one low pour; the second low pour withdraws the curve
    first = [site_check(-0.2, pour="A", maturity_h=m) for m in (10.0, 30.0)]
    second = [site_check(-0.19, pour="B", maturity_h=m) for m in (10.0, 30.0)]
    found = judged(*first, *second)
    assert [point.lasting is Lasting.KEEP for point in found.points] == [True, True, True, False]
    assert found.n_pours == 2
    assert found.alarm_at == 3
    # z of a pour of two checks: sd sqrt(.01 + 2 x .0003 / 4) = .1007472
    assert [point.pour_z for point in found.points] == pytest.approx([None, -0.2 / 0.1007472, None, -0.19 / 0.1007472])
    assert found.points[1].cusum_low == pytest.approx(0.2 / 0.1007472 - 0.5)
    assert found.points[2].cusum_low == found.points[1].cusum_low


def test_nothing_is_read_off_a_withdrawn_curve() -> None:
    low, sound = site_check(-0.2, safe_mpa=20.0), site_check(0.0)
    found = judged(low, low, sound)
    assert [point.tonight for point in found.points] == [Tonight.WAIT] * 3
    assert [Ground.CURVE_WITHDRAWN in point.grounds for point in found.points] == [False, True, True]


def test_no_checks_keep_the_curve() -> None:
    assert judged().state is Lasting.KEEP


@pytest.mark.parametrize(("later", "deciding"), [(0.0, (12.0,)), (0.1, ())])
def test_impossible_figures_are_refused(later: float, deciding: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="later-pour error above 0 and a deciding maturity"):
        judge_site_checks([], later_rms=later, deciding_maturities_h=deciding, tolerance=0.1)
