"""Site checks of an issued curve from a file: figures by hand, and every fault in a message."""

from __future__ import annotations

from dataclasses import replace
from math import exp
from pathlib import Path

import pytest

from planner.after_casting.site_checking import check_pours, rescaled_issue
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.lasting import Lasting
from planner.issued_curve.rules.tonight import Ground, Tonight
from planner.read import load_later
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.documents.values.site_checks_document import site_checks_document
from planner.report.text.plain_blocks import plain_sections
from planner.terms.problems import InputError
from planner.terms.records import GivenRecords
from tests.issued_curve.invented_curves import hyperbola, issued_curve, pour_model, promise
from tests.issued_curve.trial_files import PLAN, runway_plan, write_checks


def curve(**given: object) -> IssuedCurve:
    """A hyperbola for the runway's targets: 50 (t - 4) / (t + 16) MPa."""
    return issued_curve(mix="rapid panel mix", target_ages_h=(6.0, 24.0), **given)


def rows(pour: str, maturity: float, factor: float, **given: object) -> list[dict[str, object]]:
    """Two companions that broke at a share of the reading, 2 % to either side."""
    read = 50 * (maturity - 4) / (maturity + 16)
    return [
        {
            "batch": pour,
            "curing": "site",
            "age_h": 24,
            "specimen": f"{maturity}-{place}",
            "strength_mpa": read * factor * (1 + side),
            "maturity": maturity,
            "required_mpa": 12.0,
            **given,
        }
        for place, side in enumerate((-0.02, 0.02))
    ]


def checks(folder: Path, *listed: list[dict[str, object]]) -> GivenRecords:
    return load_later(PLAN, write_checks(folder / "checks.csv", [row for part in listed for row in part]))


def test_points_by_hand(tmp_path: Path) -> None:
    given = checks(tmp_path, rows("P1", 20.0, 0.95), rows("P2", 24.0, 1.05, required_mpa=30.0))
    answer = check_pours(runway_plan(), curve(), given)
    first, second = answer.verdict.points
    # sd of two companions of 3 %: sqrt(.116^2 + .03^2 / 2) = .1179237
    assert first.z == pytest.approx(-0.05 / 0.1179237, rel=1e-6)
    assert second.z == pytest.approx(0.05 / 0.1179237, rel=1e-6)
    assert first.check.companions.read_mpa == pytest.approx(50 * 16 / 36)
    assert first.check.companions.broken_mpa == pytest.approx(0.95 * 50 * 16 / 36)
    assert first.check.safe_mpa == pytest.approx(50 * 16 / 36 / 1.27)
    assert first.tonight is Tonight.NO_OBJECTION
    assert second.grounds == (Ground.COMPANIONS_BELOW_REQUIRED, Ground.SAFE_READING_BELOW_REQUIRED)
    assert answer.verdict.state is Lasting.KEEP
    assert answer.rescaled is None
    assert rescaled_issue(answer, standing=()) is None
    assert answer.inputs[0][0] == "checks.csv"


def test_order_is_that_of_the_rows(tmp_path: Path) -> None:
    given = checks(tmp_path, rows("P9", 20.0, 1.0), rows("P1", 24.0, 1.0), rows("P5", 22.0, 1.0))
    answer = check_pours(runway_plan(), curve(), given)
    assert [point.check.companions.batch for point in answer.verdict.points] == ["P9", "P1", "P5"]


def test_curve_is_scaled_down_under_the_next_number(tmp_path: Path) -> None:
    maturities = (6.2, 24.5, 7.0, 26.0, 6.1, 25.0, 8.0)
    listed = [rows(f"P{place}", maturity, 0.82) for place, maturity in enumerate(maturities)]
    answer = check_pours(runway_plan(), curve(number=2, supersedes=1), checks(tmp_path, *listed))
    assert answer.verdict.state is Lasting.RE_SCALE
    assert answer.rescaled is not None
    assert (answer.rescaled.number, answer.rescaled.supersedes) == (3, 2)
    # seven pours of variance .116^2 + .0009 / 2 = .013906: weight .013456 / (.013456 + .013906 / 7) = .871352
    assert answer.rescaled.scale == pytest.approx(1 - 0.18 * 0.871352, abs=1e-6)
    assert answer.rescaled.span_h == pytest.approx((6.1, 26.0))
    issue = rescaled_issue(answer, standing=("always",))
    assert issue is not None
    assert issue.table[-1].strength_mpa == pytest.approx(answer.rescaled.scale * 50 * 22 / 42)


def test_a_curve_that_carries_its_batches_is_scaled_by_their_spread(tmp_path: Path) -> None:
    maturities = (6.2, 24.5, 7.0, 26.0, 6.1, 25.0, 8.0)
    listed = [rows(f"P{place}", maturity, 0.82) for place, maturity in enumerate(maturities)]
    answer = check_pours(runway_plan(), curve(pour_model=pour_model()), checks(tmp_path, *listed))
    assert answer.rescaled is not None
    # as above, but the level's own .07: .0049 / (.0049 + .013906 / 7) = .711530
    assert answer.rescaled.scale == pytest.approx(1 - 0.18 * 0.711530, abs=1e-6)
    said = str(site_checks_account(answer))
    assert "the checks count 71 % against what batches usually differ by in strength, 7.0 %" in said
    assert "against a later pour's usual error, 11.6 %" in str(
        site_checks_account(check_pours(runway_plan(), curve(), checks(tmp_path, *listed)))
    )


def test_two_low_pours_withdraw_the_curve(tmp_path: Path) -> None:
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 20.0, 0.7), rows("P2", 24.0, 0.7)))
    assert answer.verdict.state is Lasting.RECALIBRATE
    assert answer.rescaled is None


@pytest.mark.parametrize(("maturity", "age_h"), [(4.5, 24), (700.0, 720)])  # the breaks span 5 to 672 h
def test_outside_the_curve_a_pour_waits_and_does_not_count(tmp_path: Path, maturity: float, age_h: float) -> None:
    outside = rows("P1", maturity, 0.5, age_h=age_h)
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, outside, rows("P2", 24.0, 1.0)))
    assert answer.verdict.points[0].check.safe_mpa is None
    assert answer.verdict.points[0].tonight is Tonight.WAIT
    assert Ground.OUTSIDE_RANGE in answer.verdict.points[0].grounds
    assert answer.verdict.points[0].cusum_low == 0.0
    assert "checks-outside" in {caution.code for caution in answer.cautions}


@pytest.mark.parametrize(
    ("temperature_c", "is_inside"),
    [(8.0, False), (10.9, False), (11.1, True), (20.0, True), (30.9, True), (31.1, False)],
)
def test_concrete_colder_or_warmer_than_the_curve_knows_is_outside(
    tmp_path: Path, temperature_c: float, is_inside: bool
) -> None:
    # the curve knows 12 to 30 C; one degree is let off
    path = write_checks(tmp_path / "checks.csv", rows("P1", 20.0, 1.0))
    path.write_text(path.read_text(encoding="utf-8").replace(",20.0,", ",,"), encoding="utf-8")
    temperatures = tmp_path / "temperatures.csv"
    temperatures.write_text(
        "batch,curing,elapsed_h,temperature_c\n" + "".join(f"P1,site,{hour},{temperature_c}\n" for hour in range(26)),
        encoding="utf-8",
    )
    point = check_pours(runway_plan(), curve(), load_later(PLAN, path, temperatures)).verdict.points[0]
    # 24 exp(-5000 (1 / (T + 273.15) - 1 / 293.15)), inside the maturities of the curve at all of these
    assert point.check.companions.maturity_h == pytest.approx(
        24 * exp(-5000 * (1 / (temperature_c + 273.15) - 1 / 293.15)), rel=1e-9
    )
    assert (Ground.OUTSIDE_RANGE not in point.grounds) == is_inside


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"mix": "slow mix"}, 'for the mix "slow mix", the plan for "rapid panel mix"'),
        ({"target_ages_h": (12.0,)}, "issued for targets at 12 h, the plan asks for 6 h, 1 d"),
        ({"promise": promise(later_rms=None)}, "without an error on later pours"),
    ],
)
def test_a_curve_of_another_plan_is_refused(tmp_path: Path, given: dict[str, object], message: str) -> None:
    wrong = replace(curve(), **given)  # type: ignore[arg-type]
    with pytest.raises(InputError, match=message):
        check_pours(runway_plan(), wrong, checks(tmp_path, rows("P1", 20.0, 1.0)))


def test_checks_without_companions_on_site_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There are no site-cured breaks"):
        check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 20.0, 1.0, curing="standard")))


def test_changed_inputs_are_said(tmp_path: Path) -> None:
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 20.0, 1.0)))
    assert "inputs-changed" in {caution.code for caution in answer.cautions}  # plan.toml has another hash
    same = curve(inputs=runway_plan().inputs)
    unchanged = check_pours(runway_plan(), same, checks(tmp_path, rows("P1", 20.0, 1.0)))
    assert "inputs-changed" not in {caution.code for caution in unchanged.cautions}


def test_casting_times_go_before_the_order_of_rows(tmp_path: Path) -> None:
    late = rows("P1", 20.0, 1.0, cast_at="2027-03-03 22:00")
    early = rows("P2", 24.0, 1.0, cast_at="2027-03-01 22:00")
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, late, early))
    assert [point.check.companions.batch for point in answer.verdict.points] == ["P2", "P1"]
    assert "ordered-by-casting" in {caution.code for caution in answer.cautions}
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, early, late))
    assert [point.check.companions.batch for point in answer.verdict.points] == ["P2", "P1"]
    assert not {"ordered-by-casting", "order-of-rows"} & {caution.code for caution in answer.cautions}


@pytest.mark.parametrize(
    ("times", "said"),
    [(("2027-03-03 22:00", ""), "no casting time: P2"), (("2027-03-03 22:00", None), "several: P2")],
)
def test_missing_or_several_casting_times_leave_the_order_of_rows(
    tmp_path: Path, times: tuple[str, str | None], said: str
) -> None:
    first = rows("P1", 20.0, 1.0, cast_at=times[0])
    second = rows("P2", 24.0, 1.0, cast_at=times[1] or "")
    if times[1] is None:
        second[0]["cast_at"], second[1]["cast_at"] = "2027-03-01 22:00", "2027-03-02 22:00"
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, first, second))
    assert [point.check.companions.batch for point in answer.verdict.points] == ["P1", "P2"]
    (caution,) = [caution for caution in answer.cautions if caution.code == "order-of-rows"]
    assert said in caution.text


def test_unreadable_casting_time_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no time that is understood"):
        checks(tmp_path, rows("P1", 20.0, 1.0, cast_at="soon"))


def test_checks_outside_the_curve_say_nothing_of_the_next_batch(tmp_path: Path) -> None:
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 4.5, 0.5), rows("P2", 24.0, 0.9)))
    assert answer.next_prior.n_pours == 1
    # one trial batch: half of .116^2 = .013456 is shared; .006728 and .006728 + .03^2 / 2 = .007178
    assert answer.next_prior.expected == pytest.approx(-0.1 * 0.006728 / (0.006728 + 0.007178), rel=1e-6)
    (found,) = [section for section in site_checks_account(answer) if section.heading == "For the next curve"]
    words = plain_sections((found,)).replace("\n", " ")
    assert "give or take 11.6 %" in words
    assert "After one pour it is expected 4.8 % below it, give or take 10.1 %." in words
    assert "join the breaks of its trial batch to [prior] breaks: 10 earlier batches then stand behind" in words
    two = curve(batches=(hyperbola(), hyperbola(52.0, batch="T2")))
    said = str(site_checks_account(check_pours(runway_plan(), two, checks(tmp_path, rows("P2", 24.0, 0.9)))))
    assert "join the breaks of its 2 trial batches to [prior] breaks: 11 earlier batches" in said
    assert site_checks_document(answer)["next_batch"]["expected"] == answer.next_prior.expected


@pytest.mark.parametrize(
    ("given", "code", "said"),
    [
        ({"version": "0.0.9"}, "other-version", "Version 0.0.9 of the program issued the curve, this is version 0.1.0"),
        ({"is_calibrated": False}, "not-calibrated", "The calibration of the curve was NOT ACCEPTED: no pour may be"),
    ],
)
def test_a_curve_of_another_version_or_not_accepted_is_said(
    tmp_path: Path, given: dict[str, object], code: str, said: str
) -> None:
    found = {
        item.code: item.text
        for item in check_pours(runway_plan(), curve(**given), checks(tmp_path, rows("P1", 20.0, 1.0))).cautions
    }
    assert said in found[code]
    sound = check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 20.0, 1.0)))
    assert not {"other-version", "not-calibrated"} & {item.code for item in sound.cautions}


def test_of_several_required_strengths_the_highest_counts_and_that_is_said(tmp_path: Path) -> None:
    first = rows("P1", 20.0, 1.0)
    first[1]["required_mpa"] = 30.0
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, first))
    (point,) = answer.verdict.points
    assert point.check.required_mpa == 30.0
    assert point.tonight is Tonight.WAIT
    (caution,) = [item for item in answer.cautions if item.code == "several-required"]
    assert "P1 at 1 d (12.0 to 30.0 MPa)" in caution.text
    plain = check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 20.0, 1.0)))
    assert "several-required" not in {item.code for item in plain.cautions}
