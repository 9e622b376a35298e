"""Records of pours with one slip each: what no sensor in hardening concrete writes, and what one does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from planner.read.parsing.findings import Findings
from planner.read.temperatures.later_doubts import note_still_sensors
from planner.terms.problems import InputError
from planner.terms.records import CuringRecord
from scenarios.catalogue import RUNWAY_PANELS, TUNNEL_SEGMENTS, Scenario
from scenarios.draws import draw_batches
from tests.after_casting.later_files import Row, checked, companions, early_breaks, read, site_record, without

Spoil = Callable[[list[Row]], list[Row]]


def still(*values_c: float, step_h: float = 1.0, curing: str = "site") -> list[str]:
    record = CuringRecord(
        batch="P1",
        curing=curing,  # type: ignore[arg-type]
        placement="",
        elapsed_h=step_h * np.arange(len(values_c)),
        temperature_c=np.array(values_c),
    )
    findings = Findings()
    note_still_sensors("temperatures.csv", [record], findings)
    assert {caution.code for caution in findings.cautions} <= {"temperature-still"}
    return [caution.text for caution in findings.cautions]


@pytest.mark.parametrize(
    ("values_c", "is_said"),
    [
        ((20.0,) * 6, True),  # six readings and no other
        ((20.0,) * 5, False),
        ((18.0, *(20.0,) * 17), True),  # 16 h at one value
        ((18.0, *(20.0,) * 16), False),  # 15 h
        ((*range(13), *(20.0,) * 17), False),  # from 13 h on, when it may have cooled out
        ((*range(12), *(20.0,) * 17), True),  # from 12 h on
        (tuple(20.0 + 0.1 * (place % 2) for place in range(30)), False),
    ],
)
def test_a_sensor_that_stands_still_is_told(values_c: tuple[float, ...], is_said: bool) -> None:
    assert bool(still(*values_c)) is is_said
    assert still(*values_c, curing="standard") == []


def test_where_it_stands_still_is_said() -> None:
    (text,) = still(18.0, *(20.0,) * 17, 21.0)
    assert 'batch "P1", site at 20 C from 1 to 17 h' in text
    assert "leave its record out where it was stuck or typed in" in text


def test_six_readings_at_least_within_the_spell() -> None:
    assert still(18.0, *(20.0,) * 5, step_h=4.0) == []  # 16 h in five readings
    assert still(18.0, *(20.0,) * 6, step_h=4.0)


@pytest.mark.parametrize("scenario", [RUNWAY_PANELS, TUNNEL_SEGMENTS])
@pytest.mark.parametrize("resolution_c", [0.1, 0.5, 1.0])
def test_sound_sensors_are_hardly_ever_doubted(scenario: Scenario, resolution_c: float) -> None:
    """300 batches in every climate on site; whole degrees stand still longest. Measured: 1 at most."""
    fresh = draw_batches(scenario, 300, 41)
    n_doubted = 0
    for climate in scenario.climates:
        if climate.curing != "site":
            continue
        times_h, readings_c = fresh.readings_c(climate.name)
        for values_c in np.round(readings_c / resolution_c) * resolution_c:
            record = CuringRecord(batch="P1", curing="site", placement="", elapsed_h=times_h, temperature_c=values_c)
            findings = Findings()
            note_still_sensors("t.csv", [record], findings)
            n_doubted += len(findings.cautions)
    assert n_doubted <= 3


def spoilt(change: Spoil) -> list[Row]:
    return change(site_record())


def in_minutes(rows: list[Row]) -> list[Row]:
    return [row | {"elapsed_h": 60 * row["elapsed_h"]} for row in rows]


def test_minutes_under_hours_are_refused_for_companions_and_for_pours(tmp_path: Path) -> None:
    rows = without("maturity")(companions(1))
    with pytest.raises(InputError, match=r"goes on to 1560 h, 65 times its last break at 24 h\. In minutes .* 26 h"):
        checked(tmp_path, rows, spoilt(in_minutes))
    with pytest.raises(InputError, match=r"65 times its last target at 24 h.*divide the times by 60"):
        read(tmp_path, early_breaks(), spoilt(in_minutes))
    checked(tmp_path, rows, site_record())
    read(tmp_path, early_breaks(), site_record())


def test_a_record_that_was_left_running_is_no_doubt(tmp_path: Path) -> None:
    """Half-hourly for 400 h: read before the first break, so its times are hours."""
    answer = checked(tmp_path, without("maturity")(companions(1)), site_record(until_h=400.0))
    assert answer.cautions == ()


def test_a_record_much_longer_than_its_breaks_is_in_minutes_where_it_skips_the_first_of_them(tmp_path: Path) -> None:
    """74 h in minutes end at 4440 h: not near the last break, but without a reading before the first."""
    with pytest.raises(InputError, match="goes on to 4440 h"):
        checked(tmp_path, without("maturity")(companions(1)), in_minutes(site_record(until_h=74.0)))


def test_the_curing_room_as_the_record_of_the_site_is_told(tmp_path: Path) -> None:
    room = [row | {"curing": "standard"} for row in site_record()]
    rows = without("maturity")(early_breaks())
    answer = read(tmp_path, [row | {"maturity": 4.9 + row["age_h"] - 4} for row in rows], [*room, *site_record()])
    said = {caution.code: caution.text for caution in answer.cautions}
    assert 'batch "P1", site is that of its standard-cured specimens to the last digit' in said["temperatures-copied"]
    other = [row | {"temperature_c": row["temperature_c"] + 0.1} for row in site_record()]
    sound = read(tmp_path, [row | {"maturity": 4.9 + row["age_h"] - 4} for row in rows], [*room, *other])
    assert "temperatures-copied" not in {caution.code for caution in sound.cautions}


def test_times_and_temperatures_turned_round_are_one_message_a_record(tmp_path: Path) -> None:
    turned = [row | {"elapsed_h": row["temperature_c"], "temperature_c": row["elapsed_h"]} for row in site_record()]
    with pytest.raises(InputError) as caught:
        checked(tmp_path, without("maturity")(companions(1)), turned)
    (problem,) = caught.value.problems
    assert "times more" in str(problem)
    assert "exchange the columns where time and temperature are turned round" in str(problem)
