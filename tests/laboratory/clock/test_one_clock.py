"""Screen, workbook and calendar count with the prices and minutes of the geometry that was chosen."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.geometry_choice import settings_of
from planner.laboratory.casting.casting_times import casting_windows, castings_at
from planner.laboratory.costs.cost_items import itemise
from planner.laboratory.costs.estimate import estimate
from planner.read import load_plan
from planner.terms.plan.settings import Settings
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.schedule import Schedule
from tests.report.invented_geometries import answer, option

PLAN = Path(__file__).resolve().parents[3] / "scenarios" / "sleepers" / "plan.toml"
SCHEDULE = Schedule((8.0, 12.0, 24.0), (2, 2, 3))
CAST = ("2027-03-16 07:00",)


@pytest.fixture(scope="module")
def plan_settings() -> Settings:
    return load_plan(PLAN).settings


def chosen(geometry: str) -> GeometryAnswer:
    return answer(options=(option(geometry=geometry),), conversions=())


# of the plan: a cube of 150 mm costs 12, breaking it 18 and 6 minutes; a cylinder 16, both ends 22, breaking it 24 and
# 12 minutes
@pytest.mark.parametrize(
    ("geometry", "prices", "minutes", "first"),
    [("cube 150 mm", (12, 0, 18), 6.0, "14:57"), ("cylinder 150x300 mm", (16, 22, 24), 12.0, "14:54")],
)
def test_prices_and_minutes_are_those_of_the_geometry(
    plan_settings: Settings, geometry: str, prices: tuple[int, int, int], minutes: float, first: str
) -> None:
    settings = settings_of(plan_settings, chosen(geometry))
    assert settings.costs is not None
    assert (settings.costs.specimen, settings.costs.preparation, settings.costs.break_one) == prices
    assert settings.laboratory_taken.minutes_per_break == minutes
    assert settings.prior.geometry == geometry
    (times,) = castings_at(casting_windows(CAST), SCHEDULE, settings)
    assert f"{times.slots[0].starts_at:%H:%M}" == first  # two on two machines, half the minutes before 15:00


def test_the_clock_is_that_of_the_estimate(plan_settings: Settings) -> None:
    settings = settings_of(plan_settings, chosen("cube 150 mm"))
    (times,) = castings_at(casting_windows(CAST), SCHEDULE, settings)
    found = estimate(
        ChoiceRole.RECOMMENDED, SCHEDULE, programme=settings.programme_asked, costs=settings.costs,
        laboratory=settings.laboratory, within_test_cv=(0.04,) * 3, windows=casting_windows(CAST),
    )  # fmt: skip
    assert [hour.starts for hour in found.break_hours] == [slot.starts_at.time() for slot in times.slots]
    assert [hour.visit for hour in found.break_hours] == [slot.visit for slot in times.slots]


def test_nothing_that_is_priced_stays_open(plan_settings: Settings) -> None:
    settings = settings_of(plan_settings, chosen("cube 150 mm"))
    assert settings.costs is not None
    lines = itemise(SCHEDULE, settings.costs, settings.programme_asked, settings.laboratory, targets_h=(24.0,))
    open_names = {line.name for line in lines if line.is_open}
    assert open_names == {"casting inside laboratory hours"}
    assert "end preparation" not in {line.name for line in lines}, "cubes are broken on moulded faces"


def test_a_plan_of_one_geometry_is_handed_back(plan_settings: Settings) -> None:
    assert settings_of(plan_settings, None) is plan_settings
