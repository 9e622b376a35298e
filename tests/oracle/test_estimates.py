"""Estimates of three plans against sums worked out from their text: prices, counts, attendances on the clock."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import tomllib
from dataclasses import replace
from itertools import product
from math import pi
from pathlib import Path

import pytest
from openpyxl import load_workbook

from planner.geometry_choice.plan_alone import plan_of
from planner.laboratory.casting.casting_times import cast_at
from planner.laboratory.costs.estimate import estimate
from planner.pipeline import price
from planner.read import load_plan
from planner.report.documents.estimate_workbook import render_estimate_workbook
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.settings import Plan
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import Estimate
from planner.terms.schedule import Schedule
from tests.oracle.plain.estimates import Money, PlainEstimate, local
from tests.report.invented_answers import invented_price

SCENARIOS = Path(__file__).parents[2] / "scenarios"
OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
CENT = 0.005
LITRES = {"cylinder 100x200 mm": pi / 4 * 1.0**2 * 2.0, "cylinder 150x300 mm": pi / 4 * 1.5**2 * 3.0,
          "cube 100 mm": 1.0, "cube 150 mm": 1.5**3}  # dm3  # fmt: skip


def estimated(plan: Plan, ages_h, counts, n_batches: int, geometry: str, n_early: int = 0) -> Estimate:
    settings = plan.settings
    number = settings.pours.number if settings.pours else None
    return estimate(
        ChoiceRole.RECOMMENDED, Schedule(tuple(ages_h), tuple(counts)),
        programme=replace(settings.programme_asked, trial_batches=n_batches, most_trial_batches=None),
        costs=settings.costs, laboratory=settings.laboratory, within_test_cv=(0.03,) * len(ages_h), geometry=geometry,
        windows=settings.castings, targets_h=settings.target.ages_h,
        pour_breaks=PourBreaks(n_pours=number, n_specimens=n_early) if number and n_early else None,
    )  # fmt: skip


def agrees(found: Estimate, wanted: Money) -> None:
    assert found.total == pytest.approx(wanted.calibration, abs=CENT)
    assert found.in_all == pytest.approx(wanted.in_all, abs=CENT)


RUNWAY_SCHEDULES = (
    ((4.0, 6.0, 8.0, 72.0), (2, 2, 2, 3)),
    ((24.0, 72.0, 168.0, 336.0, 672.0), (3, 3, 3, 3, 3)),
    ((4.0, 8.0, 12.0, 24.0, 672.0), (4, 2, 3, 4, 2)),
)
# in hours, at night, on a Friday before the closed Monday's weekend, on the closed day, in the night clocks go forward
RUNWAY_CASTINGS = (
    None, "2027-03-01 08:00", "2027-03-01 22:00", "2027-03-12 16:30", "2027-03-18 15:00", "2027-03-19 10:00",
    "2027-03-27 23:00",
)  # fmt: skip


@pytest.mark.parametrize(("schedule", "n_batches", "when"), [*product(RUNWAY_SCHEDULES, (1, 3), RUNWAY_CASTINGS)])
def test_the_runway(schedule, n_batches: int, when: str | None) -> None:
    path = SCENARIOS / "runway-panels" / "plan.toml"
    text = tomllib.loads(path.read_text())
    plain = PlainEstimate(text, litres=LITRES["cylinder 100x200 mm"])
    plan = runway() if when is None else cast_at(runway(), [when])
    castings = None if when is None else [local(text, when)]
    wanted = plain.money(*schedule, n_batches=n_batches, castings=castings, n_early=3)
    agrees(estimated(plan, *schedule, n_batches, "cylinder 100x200 mm", n_early=3), wanted)


def runway() -> Plan:
    return load_plan(SCENARIOS / "runway-panels" / "plan.toml")


@pytest.mark.parametrize("geometry", ["cube 100 mm", "cube 150 mm", "cylinder 150x300 mm"])
@pytest.mark.parametrize("when", [None, "2027-03-05 14:00", "2027-03-06 23:30"])
def test_sleepers_of_every_geometry(geometry: str, when: str | None) -> None:
    path = SCENARIOS / "sleepers" / "plan.toml"
    text = tomllib.loads(path.read_text())
    text["costs"].setdefault("currency", "EUR")
    kind = next(one for one in text["specimens"] if one["geometry"] == geometry)
    loaded = load_plan(path)
    cast = loaded if when is None else cast_at(loaded, [when])
    alone = plan_of(cast, next(one for one in cast.settings.specimens if one.geometry == geometry), None)
    plain = PlainEstimate(text, litres=LITRES[geometry], kind=kind)
    for ages_h, counts in (((8.0, 12.0, 24.0), (2, 2, 3)), ((10.0, 16.0, 20.0, 72.0), (3, 2, 2, 3))):
        castings = None if when is None else [local(text, when)]
        found = estimated(alone, ages_h, counts, 1, geometry)
        agrees(found, plain.money(ages_h, counts, castings=castings))
        ends = {item.name: item.amount for item in found.items}.get("end preparation", 0.0)
        assert ends == (22 * sum(counts) if geometry.startswith("cylinder") else 0.0)  # cylinders are ground


def ground_cylinders(*, ages: tuple[float, ...], counts: tuple[int, ...]) -> tuple[Estimate, Money]:
    """Of sleepers, with ends to be ground and no price for casting."""
    path, geometry = SCENARIOS / "sleepers" / "plan.toml", "cylinder 150x300 mm"
    text, loaded = tomllib.loads(path.read_text()), load_plan(path)
    kind = next(one for one in text["specimens"] if one["geometry"] == geometry)
    alone = plan_of(loaded, next(one for one in loaded.settings.specimens if one.geometry == geometry), None)
    wanted = PlainEstimate(text, litres=LITRES[geometry], kind=kind).money(ages, counts)
    return estimated(alone, ages, counts, 1, geometry), wanted


EVERYTHING = """
title = "Everything that has a price"
[mix]
final_set_h = 1.5
[prior]
breaks = "breaks.csv"
temperatures = "temperatures.csv"
standard_curing_c = 20
[target]
ages = ["6 h", "1 d"]
tolerance = "10 %"
[choices]
ages = ["4 h", "8 h", "12 h", "1 d", "3 d"]
fewest_ages = 3
most_ages = 4
specimens_per_age = [2, 3]
[budget]
specimens = 30
[curves]
families = ["hyperbolic", "logarithmic"]
[maturity]
equivalent_age_q_k = [5000]
datum_c = []
[compare]
schedules = ["12 h x3, 1 d x3, 3 d x3"]
[programme]
instrumented = 2
spares = "10 %"
companions_per_check = 3
trial_batches = 2
checks = 20
[pours]
early_ages = ["4 h", "8 h"]
specimens_per_age = [1, 2]
most_specimens = 4
number = 40
[costs]
currency = "EUR"
specimen = 18.35
preparation = 11.90
break = 25.20
visit = 90
visit_outside_hours = 240
instrumented = 61.50
fixed = 400
casting = 150
casting_outside_hours = 400
check_visit = 35
pour_break = 30.10
contingency = "7.5 %"
[[costs.other]]
name = "transport"
amount = 60
per = "batch"
[[costs.other]]
name = "report"
amount = 250.50
per = "programme"
[[costs.other]]
name = "label"
amount = 0.35
per = "specimen"
[[costs.other]]
name = "van"
amount = 22.50
per = "visit"
[[costs.other]]
name = "concrete"
amount = 0.19
per = "litre"
[laboratory]
open = "07:00-17:00"
days = "Mon-Fri"
closed = ["2027-03-26", "2027-03-29"]
time_zone = "Europe/Oslo"
minutes_per_break = 4
machines = 2
"""
CAST = ("2027-03-25 22:00", "2027-03-30 08:00")  # the night before a holiday, and a working morning


@pytest.fixture(scope="module")
def everything(tmp_path_factory) -> tuple[PriceAnswer, PlainEstimate]:
    folder = tmp_path_factory.mktemp("everything")
    for name in ("breaks.csv", "temperatures.csv"):
        shutil.copyfile(SCENARIOS / "runway-panels" / name, folder / name)
    path = folder / "plan.toml"
    path.write_text(EVERYTHING)
    plan = cast_at(load_plan(path), CAST)
    answer = price(plan, n_draws=5, workers=1)
    return answer, PlainEstimate(tomllib.loads(EVERYTHING), litres=LITRES["cylinder 100x200 mm"])


def by_hand(plain: PlainEstimate, schedule: Schedule, n_batches: int = 2, n_early: int = 0) -> Money:
    castings = [local(plain.plan, when) for when in CAST]
    return plain.money(schedule.ages_h, schedule.specimens, n_batches=n_batches, castings=castings, n_early=n_early)


def n_early_of(answer: PriceAnswer) -> int:
    early = answer.recommendation.early_breaks
    assert early is not None
    assert early.recommended is not None
    return early.rows[early.recommended].n_specimens


def test_estimates_of_everything(everything) -> None:
    answer, plain = everything
    assert n_early_of(answer) > 0
    for one in answer.estimates:
        agrees(one, by_hand(plain, one.schedule, n_early=n_early_of(answer)))
        assert one.items[-1].name.startswith("contingency")
        assert sum(round(item.amount, 2) for item in one.items) == pytest.approx(one.in_all, abs=0.05)


def test_every_table_of_money_says_the_same(everything) -> None:
    answer, plain = everything
    money = answer.recommendation.spending
    assert money is not None
    assert {item.n_trial_batches for item in money.programmes} == {1, 2, 3}
    for item in money.programmes:
        assert item.cost == pytest.approx(by_hand(plain, item.schedule, item.n_trial_batches).calibration, abs=CENT)
    assert money.recommended in money.programmes
    for point in (*answer.by_cost, *answer.by_specimens):
        assert point.cost == pytest.approx(by_hand(plain, point.schedule).calibration, abs=CENT)
    now = answer.recommendation.recommended.schedule
    before = by_hand(plain, now).calibration
    for step, found in ((1, answer.gains), (-1, answer.losses)):
        assert [item.age_h for item in found] == list(now.ages_h)
        for item in found:
            counts = tuple(n + step * (age == item.age_h) for age, n in zip(now.ages_h, now.specimens, strict=True))
            after = by_hand(plain, Schedule(now.ages_h, counts)).calibration
            assert item.cost == pytest.approx(after - before, abs=CENT)
            assert item.is_allowed == (2 <= item.n_now + step <= 3 and 2 * sum(counts) <= 30)


def test_alternatives_of_everything(everything) -> None:
    answer, plain = everything
    pours = 40 * 30.10 * n_early_of(answer)
    names = [item.name for item in answer.alternatives]
    assert names[:3] == ["1 trial batch", "2 trial batches", "3 trial batches"]
    assert "records alone" in names
    assert [item.name for item in answer.alternatives if item.is_recommended] == ["2 trial batches"]
    early = answer.recommendation.early_breaks
    assert early is not None
    rows = {(row.n_trial_batches, row.n_specimens): row for rows in early.by_trials for row in rows}
    for item in answer.alternatives:
        n_early = n_early_of(answer) if "early" in item.name else 0
        calibration = 0.0
        if item.schedule is not None:
            calibration = by_hand(plain, item.schedule, item.n_trial_batches).calibration
        assert item.cost == pytest.approx(calibration + (pours if n_early else 0.0), abs=CENT)
        assert item.is_within_limits == (item.n_trial_batches == 2)  # as the plan has it, and at most 30 specimens
        if n_early or not item.n_trial_batches:
            assert item.later_rms == rows[item.n_trial_batches, n_early].rms
            assert item.within_tolerance == rows[item.n_trial_batches, n_early].within_tolerance


def test_money_at_risk_is_worked_out_from_calibration_and_acceptance(everything) -> None:
    answer, plain = everything
    risk, schedule, once = answer.risk, answer.estimates[0].schedule, 250.50  # the report is paid once
    assert risk is not None
    acceptance = sum(plain.acceptance(local(plain.plan, when), is_dated=True) for when in CAST)
    whole = by_hand(plain, schedule).calibration + acceptance
    assert risk.cost_without_repeat == pytest.approx(whole, abs=CENT)
    again = (whole - once) / (1.0 - risk.chance_of_repeat)
    assert risk.options[0].expected_cost == pytest.approx(once + again, abs=CENT)
    assert risk.expected_alarm_cost == pytest.approx(risk.chance_of_false_alarm * (whole - once), abs=CENT)


def test_days_are_counted_between_the_castings(everything) -> None:
    # from Thursday 22:00 to Tuesday 08:00, clocks going forward on Sunday: 105 h, a day more for a third trial batch
    # a break may be moved by 20 h at most (28 d), and the due day is that of the last trial batch
    answer, plain = everything
    for item in answer.alternatives:
        last_cast_h = {1: 0.0, 2: 105.0, 3: 129.0}.get(item.n_trial_batches)
        for stage in item.stages:
            assert item.schedule is not None
            assert last_cast_h is not None
            age_h = item.schedule.ages_h[stage.n_ages - 1]
            assert stage.age_h == age_h + last_cast_h
            assert stage.due is not None
            due = local(plain.plan, CAST[0]).astimezone(dt.UTC) + dt.timedelta(hours=age_h + last_cast_h)
            assert abs(stage.due - due) <= dt.timedelta(hours=21)


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice Calc is not installed")
def test_sheets_recalculate_to_the_sums_worked_out_by_hand(everything, tmp_path: Path) -> None:
    answer, plain = everything
    ages_h, counts = RUNWAY_SCHEDULES[0]
    of_runway = estimated(runway(), ages_h, counts, 3, "cylinder 100x200 mm", n_early=3)
    text = tomllib.loads((SCENARIOS / "runway-panels" / "plan.toml").read_text())
    of_sleepers, sleepers = ground_cylinders(ages=(8.0, 12.0, 20.0), counts=(2, 3, 2))
    wanted = {
        "everything": [by_hand(plain, one.schedule, n_early=n_early_of(answer)) for one in answer.estimates],
        "runway": [PlainEstimate(text).money(ages_h, counts, n_batches=3, n_early=3)],
        "sleepers": [sleepers],
    }
    written = {
        "everything": answer,
        "runway": replace(invented_price(), estimates=(of_runway,)),
        "sleepers": replace(invented_price(), estimates=(of_sleepers,)),
    }
    for name, found in written.items():
        (tmp_path / f"{name}.xlsx").write_bytes(render_estimate_workbook(found))
    subprocess.run(
        [str(OFFICE), f"-env:UserInstallation=file://{tmp_path}/office", "--headless", "--convert-to", "xlsx",
         "--outdir", str(tmp_path / "done"), *(str(tmp_path / f"{name}.xlsx") for name in written)],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    for name, sums in wanted.items():
        book = load_workbook(tmp_path / "done" / f"{name}.xlsx", data_only=True)
        formulas = load_workbook(tmp_path / f"{name}.xlsx")
        for place, money in enumerate(sums):
            rows = {row[0]: row[3] for row in book.worksheets[place].iter_rows(min_row=2, values_only=True) if row[0]}
            live = {
                row[0]: row[3] for row in formulas.worksheets[place].iter_rows(min_row=2, values_only=True) if row[0]
            }
            assert rows["calibration"] == pytest.approx(money.calibration, abs=CENT)
            assert rows["checks and pours"] == pytest.approx(money.beside, abs=CENT)
            assert rows["total"] == pytest.approx(money.in_all, abs=CENT)
            assert all(str(live[name]).startswith("=") for name, amount in rows.items() if amount is not None)
