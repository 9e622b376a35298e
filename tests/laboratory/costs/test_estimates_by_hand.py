"""Three whole estimates against sums written out from the prices, to the cent; lines that may be open."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_sums import cost_when_cast
from planner.laboratory.costs.estimate import estimate, litres_of_one
from planner.read import check_plan
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.settings import Costs, Laboratory, OtherCost, ProgrammeSettings
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.cost_item import CostPart
from planner.terms.results.programme_count import ANY_HOUR, Estimate
from planner.terms.schedule import Schedule
from planner.verdict.answers.price.price_answer import open_prices
from tests.read.invented_study import break_rows, plan_text, write_study

NIGHT = Laboratory(opens=dt.time(22), closes=dt.time(6))
ALWAYS = Laboratory()


def priced(
    schedule: Schedule,
    costs: Costs,
    programme: ProgrammeSettings,
    *,
    laboratory: Laboratory | None = None,
    targets_h: tuple[float, ...] = (),
    pour_breaks: PourBreaks | None = None,
) -> Estimate:
    return estimate(
        ChoiceRole.RECOMMENDED, schedule, programme=programme, costs=costs, laboratory=laboratory,
        within_test_cv=(0.03,) * schedule.n_ages, geometry="cylinder 100x200 mm", targets_h=targets_h,
        pour_breaks=pour_breaks,
    )  # fmt: skip


def amounts(found: Estimate) -> dict[str, float]:
    return {item.name: round(item.amount, 2) for item in found.items}


def test_one_trial_batch_with_every_kind_of_line() -> None:
    # 1 d x3, 7 d x3, 28 d x3; a day's attendance each, always open. 9 broken, 1 spare (10 % of 9, rounded up), 2 with
    # sensors: 12 made. Two targets with 3 companions each. 20 site checks of 3. 40 pours with 2 early specimens.
    litres = 1.1 * 3.14159265358979 * 0.5**2 * 2  # a cylinder 1 dm wide, 2 dm high, and a tenth of waste
    costs = Costs(
        currency="EUR", specimen=18.35, preparation=11.9, break_one=25.2, visit=90, visit_outside_hours=240,
        instrumented=61.5, fixed=400, casting=150, casting_outside_hours=400, pour_break=30.1, check_visit=35,
        contingency=0.075, litres_each=litres_of_one("cylinder 100x200 mm"),
        other=(
            OtherCost(name="transport", amount=60, per="batch"),
            OtherCost(name="report", amount=250.5, per="programme"),
            OtherCost(name="label", amount=0.35, per="specimen"),
            OtherCost(name="van", amount=22.5, per="visit"),
            OtherCost(name="concrete", amount=0.19, per="litre"),
        ),
    )  # fmt: skip
    programme = ProgrammeSettings(instrumented=2, spares=0.1, companions_per_check=3, n_checks=20)
    answer = priced(
        Schedule((24.0, 168.0, 672.0), (3, 3, 3)), costs, programme, laboratory=ALWAYS, targets_h=(6.0, 24.0),
        pour_breaks=PourBreaks(n_pours=40, n_specimens=2),
    )  # fmt: skip
    each = 18.35 + 11.90 + 25.20
    assert amounts(answer) == {
        "specimens made": round(12 * 18.35, 2),
        "end preparation": round(9 * 11.90, 2),
        "breaking": round(9 * 25.20, 2),
        "visits inside laboratory hours": 3 * 90,
        "visits outside laboratory hours": 0,
        "instrumented specimens": 2 * 61.5,
        "fixed, for each trial batch": 400,
        "casting inside laboratory hours": 150,
        "casting outside laboratory hours": 0,
        "transport, for each batch": 60,
        "report": 250.5,
        "label, for each specimen": round(12 * 0.35, 2),
        "van, for each visit": 3 * 22.5,
        "concrete, for each litre": round(12 * litres * 0.19, 2),
        "companions of the trial batch, made and broken": round(6 * (each + 0.35 + litres * 0.19), 2),
        "visits to break them": 2 * (35 + 22.5),
        "companions of site checks, made and broken": 60 * round(each, 2),
        "visits of site checks": 20 * 35,
        "early breaks of 40 pours": 80 * 30.1,
        "contingency, 7.5 % of all the above": 657.75,
    }
    # 220.20 + 107.10 + 226.80 + 270 + 123 + 400 + 150 + 60 + 250.50 + 4.20 + 67.50 + 3.94 = 1883.24
    assert answer.total == pytest.approx(1883.24, abs=0.005)
    # 336.77 + 115 + 3327 + 700 + 2408 = 6886.77
    assert answer.amount_of(CostPart.CHECKS_AND_POURS) == pytest.approx(6886.77, abs=0.005)
    # 1883.24 + 6886.77 + 657.75 = 9427.76
    assert answer.in_all == pytest.approx(9427.76, abs=0.005)
    assert answer.items[-1].part is CostPart.CONTINGENCY
    assert answer.open_items == ()


def test_three_trial_batches_cast_at_night() -> None:
    # Cast Monday 10:30 by a laboratory open from 22:00 to 06:00: 12 h falls on 22:30 (inside), 1 d on 10:30 (outside,
    # +-30 min cannot reach), 7 d on Monday 10:30, moved by up to 6 h to 06:00. Three batches: 3 x 2 inside, 3 x 1 out.
    costs = Costs(
        currency="EUR", specimen=18, preparation=12, break_one=25, visit=90, visit_outside_hours=240,
        fixed=400, casting=150, casting_outside_hours=400,
        other=(OtherCost(name="van", amount=20, per="visit"), OtherCost(name="report", amount=310, per="programme")),
    )  # fmt: skip
    schedule = Schedule((12.0, 24.0, 168.0), (2, 3, 2))
    programme = ProgrammeSettings(instrumented=0, trial_batches=3)
    answer = priced(schedule, costs, programme, laboratory=NIGHT)
    times = break_times(schedule, NIGHT, cast_at=dt.datetime(2027, 3, 1, 10, 30))
    assert (times.n_visits, times.n_outside, times.is_casting_outside_hours) == (3, 1, True)
    by_hand = 3 * (7 * 18 + 7 * 12 + 7 * 25 + 2 * 90 + 1 * 240 + 3 * 20 + 400 + 400) + 310
    assert cost_when_cast(answer, times) == by_hand == 5305
    # At its cheapest hour, in opening hours: all three breaks inside, so no night rate at all.
    assert answer.casting == "Monday 00:00"
    assert answer.total == 3 * (7 * 55 + 2 * 90 + 1 * 240 + 3 * 20 + 400 + 150) + 310


def test_another_casting_pays_its_own_number_of_visits_and_vans() -> None:
    # 6 h and 8 h, open 07:00 to 17:00: one visit at the cheapest hour; cast at 10:30 the second is a call.
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17))
    costs = Costs(
        currency="EUR", specimen=18, break_one=25, visit=90, visit_outside_hours=240, fixed=400,
        other=(OtherCost(name="van", amount=22.5, per="visit"),),
    )  # fmt: skip
    schedule, programme = Schedule((6.0, 8.0), (2, 2)), ProgrammeSettings(instrumented=0)
    answer = priced(schedule, costs, programme, laboratory=laboratory)
    assert answer.total == 4 * 43 + 90 + 22.5 + 400
    late = break_times(schedule, laboratory, cast_at=dt.datetime(2027, 3, 1, 10, 30))
    assert cost_when_cast(answer, late) == 4 * 43 + 90 + 240 + 2 * 22.5 + 400


def test_companions_broken_at_night_cost_a_visit_outside_hours() -> None:
    # Cast Monday 12:00 in opening hours 07:00 to 17:00: the companions of 6 h are due at 18:00, a call; those of 1 d at
    # 12:00, inside. A van for each of both. Two trial batches.
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17), casting_hours=(dt.time(12), dt.time(12, 15)))
    costs = Costs(
        currency="EUR", specimen=18, break_one=25, visit=90, visit_outside_hours=240, check_visit=35,
        other=(OtherCost(name="van", amount=20, per="visit"),),
    )  # fmt: skip
    programme = ProgrammeSettings(instrumented=0, companions_per_check=3, trial_batches=2)
    answer = priced(Schedule((24.0, 168.0), (2, 2)), costs, programme, laboratory=laboratory, targets_h=(6.0, 24.0))
    assert answer.casting == "Monday 12:00"
    lines = amounts(answer)
    assert lines["visits to break them"] == 2 * (35 + 20)
    assert lines["visits to break them outside laboratory hours"] == 2 * (240 + 20)
    assert answer.amount_of(CostPart.CHECKS_AND_POURS) == 2 * (6 * 43 + 35 + 20 + 240 + 20)


def test_companions_due_on_a_closed_day_cost_a_visit_outside_hours() -> None:
    # Cast Thursday 25 March 2027 at 10:00, closed on Friday: 1 d is a call. A day earlier it is not.
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17), closed=(dt.date(2027, 3, 26),))
    costs = Costs(currency="EUR", visit=90, visit_outside_hours=240)
    programme = ProgrammeSettings(instrumented=0, companions_per_check=3)
    found = []
    for day in (25, 24):
        at = dt.datetime(2027, 3, day, 10)
        answer = estimate(
            ChoiceRole.RECOMMENDED, Schedule((3.0,), (2,)), programme=programme, costs=costs, laboratory=laboratory,
            within_test_cv=(0.03,), windows=[(at, at)], targets_h=(24.0,),
        )  # fmt: skip
        found.append(answer.amount_of(CostPart.CHECKS_AND_POURS))
    assert found == [240, 90]


def test_two_targets_of_one_day_are_one_visit() -> None:
    # always open, an attendance a calendar day, as for the schedule: 6 h and 12 h are broken on the day of casting
    costs = Costs(currency="EUR", check_visit=35)
    programme = ProgrammeSettings(instrumented=0, companions_per_check=3)
    lines = amounts(priced(Schedule((24.0,), (2,)), costs, programme, laboratory=ALWAYS, targets_h=(6.0, 12.0)))
    assert lines["visits to break them"] == 35


def test_early_breaks_without_a_price_of_their_own_leave_their_visits_out_and_say_so() -> None:
    costs = Costs(currency="EUR", specimen=18, preparation=12, break_one=25, visit=90)
    pours = PourBreaks(n_pours=40, n_specimens=3)
    programme = ProgrammeSettings(instrumented=0)
    lines = amounts(priced(Schedule((24.0,), (2,)), costs, programme, pour_breaks=pours))
    assert lines["early breaks of 40 pours, their visits not priced"] == 40 * 3 * 55
    stated = amounts(priced(Schedule((24.0,), (2,)), replace(costs, pour_break=80), programme, pour_breaks=pours))
    assert stated["early breaks of 40 pours"] == 40 * 3 * 80


def test_a_plan_that_leaves_prices_out() -> None:
    # 6 specimens, nothing beside: only what has a price is in the sum, everything needed without one is named.
    costs = Costs(currency="EUR", break_one=25.25, other=(OtherCost(name="concrete", amount=0.2, per="litre"),))
    programme = ProgrammeSettings(instrumented=1, companions_per_check=2, n_checks=3)
    answer = priced(Schedule((24.0, 168.0, 672.0), (2, 2, 2)), costs, programme, targets_h=(24.0,))
    assert answer.total == 6 * 25.25 == 151.5
    assert answer.in_all == 151.5 + 2 * 25.25 + 6 * 25.25 == 353.5
    assert answer.open_items == (
        "specimens made",
        "end preparation",
        "visits inside laboratory hours",
        "instrumented specimens",
        "fixed, for each trial batch",
        "casting inside laboratory hours",
        "concrete, for each litre",
        "visits to break them",
        "visits of site checks",
    )
    without = estimate(
        ChoiceRole.RECOMMENDED, answer.schedule, programme=programme, costs=None, laboratory=None,
        within_test_cv=(0.03,) * 3, targets_h=(24.0,),
    )  # fmt: skip
    assert (without.total, without.in_all, without.open_items) == (None, None, ())


def test_companions_of_the_trial_batch_are_cast_with_it() -> None:
    programme = ProgrammeSettings(instrumented=2, companions_per_check=3, n_checks=4, trial_batches=2)
    answer = priced(Schedule((24.0, 168.0), (3, 3)), Costs(currency="EUR"), programme, targets_h=(6.0, 24.0)).count
    assert (answer.n_acceptance, answer.n_companions, answer.n_of_curve, answer.n_made) == (12, 12, 16, 40)
    assert answer.n_broken == 12 + 12 + 12
    assert answer.n_moulds == 6 + 2 + 6
    one = litres_of_one("cylinder 100x200 mm")
    assert one is not None
    assert answer.litres_per_trial_batch == pytest.approx(14 * one)
    assert answer.litres == pytest.approx(2 * 14 * one + 12 * one)
    assert litres_of_one("several") is None


def test_a_check_visit_left_out_costs_a_visit_and_no_pours_no_line() -> None:
    costs = Costs(currency="EUR", specimen=1, visit=90)
    programme = ProgrammeSettings(instrumented=0, companions_per_check=2, n_checks=5)
    lines = amounts(priced(Schedule((24.0,), (2,)), costs, programme))
    assert lines["visits of site checks"] == 5 * 90
    assert not any("pours" in name or "contingency" in name for name in lines)
    cheap = amounts(priced(Schedule((24.0,), (2,)), replace(costs, check_visit=0.0), programme))
    assert cheap["visits of site checks"] == 0


@pytest.mark.parametrize(
    ("are_ends_prepared", "preparation", "line"),
    [(True, 12.0, 108.0), (True, 0.0, 0.0), (False, 0.0, None), (False, 4.0, 36.0)],
)
def test_moulded_faces_need_no_line_for_ends(
    preparation: float, line: float | None, *, are_ends_prepared: bool
) -> None:
    costs = Costs(
        currency="EUR", specimen=18, break_one=25, preparation=preparation, are_ends_prepared=are_ends_prepared
    )
    answer = priced(Schedule((24.0, 168.0, 672.0), (3, 3, 3)), costs, ProgrammeSettings(instrumented=0))
    assert amounts(answer).get("end preparation") == line
    assert ("end preparation" in answer.open_items) == (are_ends_prepared and not preparation)
    assert ("preparation" in open_prices(costs, [answer])) == (are_ends_prepared and not preparation)
    assert answer.total == 9 * (18 + 25 + preparation)


@pytest.mark.parametrize(("geometry", "are_prepared"), [("cube 100 mm", False), ("cylinder 150x300 mm", True)])
def test_whether_ends_are_prepared_is_read_from_the_geometry(
    tmp_path: Path, geometry: str, *, are_prepared: bool
) -> None:
    rows = break_rows()
    for row in rows[1:]:
        row[3] = geometry
    plan = plan_text(prior='breaks = "breaks.csv"', costs='currency = "EUR"\npreparation = 4')
    read, problems = check_plan(write_study(tmp_path, breaks=rows, plan=plan))
    assert problems == ()
    assert read is not None
    assert read.settings.costs is not None
    assert read.settings.costs.are_ends_prepared == are_prepared
    said = [caution.text for caution in read.records.cautions if "moulded faces" in caution.text]
    assert len(said) == (0 if are_prepared else 1)


def test_of_hours_alike_to_the_calibration_the_cheapest_for_the_companions_is_taken() -> None:
    # 3 d x2, open 07:00 to 17:00 every day: the breaks fall in hours whenever it is cast. Crews cast from 10:00 on:
    # companions of 6 h are then broken at 16:00, in hours, those of 8 h at 18:00, a call at 240.
    open_hours = (dt.time(10), dt.time(16))
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17), casting_hours=open_hours)
    costs = Costs(currency="EUR", specimen=18, break_one=25, visit=90, visit_outside_hours=240)
    programme = ProgrammeSettings(instrumented=0, companions_per_check=3)
    beside = []
    for targets_h in ((6.0,), (8.0,), (6.0, 15.0), (20.0,)):
        found = priced(Schedule((72.0,), (2,)), costs, programme, laboratory=laboratory, targets_h=targets_h)
        assert found.total == 2 * 43 + 90
        beside.append((found.casting, found.amount_of(CostPart.CHECKS_AND_POURS) - 3 * 43 * len(targets_h)))
    # 15 h after 16:00 is 07:00, but then 6 h is a call too; 20 h may slip by 24 min and half an hour's work must fit
    assert beside == [("Monday 10:00", 90), ("Monday 10:00", 240), ("Monday 10:00", 90 + 240), ("Monday 11:30", 90)]


def test_an_hour_that_does_not_matter_is_not_named() -> None:
    costs = Costs(currency="EUR", visit=90)
    for laboratory in (None, ALWAYS, Laboratory(machines=2, closed=(dt.date(2027, 3, 26),))):
        found = priced(Schedule((24.0, 168.0), (2, 2)), costs, ProgrammeSettings(), laboratory=laboratory)
        assert (found.casting, found.break_hours) == (ANY_HOUR, ())
    crew = Laboratory(casting_hours=(dt.time(9), dt.time(9, 30)))
    named = priced(Schedule((24.0, 168.0), (2, 2)), costs, ProgrammeSettings(), laboratory=crew)
    assert named.casting == "Monday 09:00"
