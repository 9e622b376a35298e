"""A plan that waits for strengths alone, through every command and file, in SI and in US units."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from icalendar import Calendar

from planner.cli.main import main
from tests.walks.strengths_alone import CAST, STRENGTHS_MPA, write_study

pytestmark = pytest.mark.usefixtures("learnt_once")
LESS = ("--draws", "10", "--workers", "1")
Run = Callable[..., str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that must end with 0, and hand over what it said."""

    def command(*arguments: object) -> str:
        with pytest.raises(SystemExit) as left:
            main([str(item) for item in arguments])
        said = capsys.readouterr()
        assert left.value.code == 0, (arguments, said.err)
        return " ".join(said.out.split())

    return command


def walk(run: Run, folder: Path, units: str) -> dict[str, str]:
    """What every command says; files go to the folder."""
    plan = write_study(folder, units=units)
    out, later, so_far = folder / "out", ("--temperatures", folder / "later.csv"), folder / "so_far.csv"
    issued = ("curve", plan, "--curve", out / "curve.json")
    return {
        "check": run("check", plan),
        "recommend": run("recommend", plan, *LESS, "--out", out, "--cast", CAST, "--full"),
        "score": run("score", plan, *LESS, "--schedule", "6 h x3, 1 d x3, 7 d x3"),
        "minimum": run("minimum", plan, *LESS, "--out", folder / "least"),
        "price": run("price", plan, *LESS, "--out", folder / "price", "--cast", CAST),
        "sweep": run("sweep", folder, *LESS, "--out", folder / "sweep"),
        "begun": run(
            "recommend", plan, *LESS, "--trial", folder / "begun.csv", "--temperatures", folder / "so_far.csv"
        ),
        "curve": run("curve", plan, *LESS, "--trial", folder / "trial.csv", *later, "--out", out),
        "checks": run(*issued, "--site-checks", folder / "checks.csv", *later, "--out", folder / "checks"),
        "pour": run(*issued, "--pour", folder / "pour.csv", "--temperatures", so_far, "--out", folder / "pour"),
    }


def test_every_command_serves_it(run: Run, tmp_path: Path) -> None:
    said = walk(run, tmp_path, "SI")
    for command in ("check", "recommend", "score", "minimum", "price", "sweep"):
        assert "15 MPa" in said[command], command
        assert "25 MPa" in said[command], command
    assert re.search(r" 15 8 [\d.]+ [\d.]+ [\d.]+ 15 20 .* 25 32 ", said["curve"]), "hours to each strength"
    assert "Go on as planned" in said["begun"]
    assert re.search(r"read|MPa", said["pour"])
    for file in ("least/clause.html", "price/estimate.html", "out/curve.html", "checks/site-checks.html"):
        assert (tmp_path / file).stat().st_size > 1000, file
    for file in ("least/clause.html", "out/report.html"):
        assert "15 MPa" in (tmp_path / file).read_text().replace("\xa0", " "), file
    document = json.loads((tmp_path / "out" / "recommendation.json").read_text())
    assert [item["strength_mpa"] for item in document["targets"]] == list(STRENGTHS_MPA)
    _windows(tmp_path / "out", document, said["recommend"])


def _windows(out: Path, document: dict, screen: str) -> None:
    """The window of 15 MPa from the hours of the document: calendar, screen, page and workbook say the same."""
    (wait, beyond) = document["waiting"]["waits"]
    hours = {at["temperature_c"]: at for at in wait["hours"]}
    assert set(hours) == {8.0, 20.0, 32.0}
    # Oslo keeps winter time on these days: an hour ahead of UTC.
    cast_at = dt.datetime(2027, 3, 1, 6, 30, tzinfo=dt.UTC)
    (first_h,) = (line["points"][0][0] for line in document["waiting"]["growth"] if line["temperature_c"] == 32.0)
    earliest_h = hours[32.0]["earliest_h"]
    opens = cast_at + dt.timedelta(hours=first_h if earliest_h is None else earliest_h)
    closes = cast_at + dt.timedelta(hours=hours[8.0]["safe_h"] or hours[8.0]["likely_h"])
    assert opens < closes
    events = Calendar.from_ical((out / "breaks.ics").read_bytes()).walk("VEVENT")
    (event,) = (item for item in events if "to be expected" in str(item["summary"]) and "15 MPa" in item["summary"])
    for key, wanted in (("dtstart", opens), ("dtend", closes)):
        assert abs(event.decoded(key) - wanted) < dt.timedelta(seconds=2)
    assert event["transp"] == "TRANSPARENT"
    assert "it is no reading" in event["description"]
    opening = "first break age" if earliest_h is None else "earliest"
    oslo = dt.timezone(dt.timedelta(hours=1))
    line = f"15 MPa: from {opens.astimezone(oslo):%a %Y-%m-%d %H:%M} ({opening}, concrete at 32 C) to"
    assert line in screen
    assert line in " ".join(re.sub("<[^>]*>", " ", (out / "report.html").read_text()).replace("\xa0", " ").split())
    cells = [cell for row in openpyxl.load_workbook(out / "workbook.xlsx")["Summary"].iter_rows(values_only=True)
             for cell in row if isinstance(cell, str)]  # fmt: skip
    assert any(cell.startswith(line) for cell in cells)
    assert beyond["hours"][0]["safe_h"] is None
    assert "25 MPa: not dated" in screen


def test_us_units_from_end_to_end(run: Run, tmp_path: Path) -> None:
    plan = write_study(tmp_path, units="US")
    said = run("recommend", plan, *LESS, "--out", tmp_path / "out", "--cast", CAST, "--full")
    assert "2,180 psi" in said
    assert "MPa" not in re.sub(r"[^ ]*\.toml", "", said)
    assert "concrete at 90 F) to" in said
    calendar = (tmp_path / "out" / "breaks.ics").read_text()
    assert "2\\,180 psi to be expected" in calendar
    assert " MPa" not in calendar
    assert "MPa" not in re.sub("<[^>]*>", " ", (tmp_path / "out" / "report.html").read_text())
