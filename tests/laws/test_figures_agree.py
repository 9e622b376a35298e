"""A schedule that is named anywhere carries the same figures everywhere: four commands, JSON, text, page and workbook.

Figures of fixed programmes and figures of the choosing rule have different names; equal names are held together here.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from planner.cli.main import main
from tests.oracle.plain.candidates import Limits
from tests.oracle.small_plans import Asked, from_scenario, write_plan

MONEY = """
[programme]
trial_batches = [1, 2]
[costs]
currency = "EUR"
specimen = 20
break = 30
visit = 100
casting = 300
fixed = 50
"""
RUNWAY = Asked(
    Limits((4.0, 6.0, 8.0, 12.0, 72.0), 3, 4, (2, 3), 20, least_strength_mpa=3.0), (6.0,), q_k=(4000.0, 5000.0),
    final_set_h=1.5,
)  # fmt: skip
TUNNEL = Asked(Limits((8.0, 10.0, 14.0, 24.0, 72.0), 3, 3, (2, 3), 18), (14.0,), q_k=(4000.0, 5000.0))
DRAWS = ["--draws", "1000", "--workers", "1"]
RELATIVE = 1e-5  # so many draws count every combination, as the closed form does

Key = tuple[tuple[float, ...], tuple[int, ...], str, int]  # ages [h], specimens, curve, trial batches


@pytest.fixture(scope="module", params=["runway-panels", "tunnel-segments"])
def plan(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plan")
    from_scenario(folder, scenario=request.param)
    return write_plan(folder, RUNWAY if request.param == "runway-panels" else TUNNEL, more=MONEY)


def run(*arguments: str) -> None:
    with pytest.raises(SystemExit) as left:
        main([*arguments, *DRAWS])
    assert left.value.code == 0


@pytest.fixture(scope="module")
def stated(plan: Path) -> dict[str, Any]:
    """What every command says of the plan, as JSON, and the files that `recommend` writes."""
    import contextlib
    import io

    found: dict[str, Any] = {}
    for command in ("recommend", "price", "minimum"):
        with contextlib.redirect_stdout(io.StringIO()) as out:
            run(command, str(plan), "--json")
        found[command] = json.loads(out.getvalue())
    taken = found["recommend"]["recommended"]
    schedule = ", ".join(f"{age:g} h x{n}" for age, n in zip(taken["ages_h"], taken["specimens"], strict=True))
    with contextlib.redirect_stdout(io.StringIO()) as out:
        run("score", str(plan), "--json", "--schedule", schedule)
    found["score"] = json.loads(out.getvalue())
    return found


@pytest.fixture(scope="module")
def written(plan: Path) -> Path:
    folder = plan.parent / "out"
    run("recommend", str(plan), "--out", str(folder), "--full")
    return folder


def schedules(document: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every value that names a schedule, with its place."""
    if isinstance(document, dict):
        if {"ages_h", "specimens"} <= set(document):
            yield where, document
        elif isinstance(document.get("schedule"), dict) and {"ages_h", "specimens"} <= set(document["schedule"]):
            yield where, {**document["schedule"], **document}
        for name, value in document.items():
            if name != "schedule":
                yield from schedules(value, f"{where}.{name}")
    elif isinstance(document, list):
        for value in document:
            yield from schedules(value, f"{where}[]")


def facts(where: str, item: dict[str, Any], n_taken: int) -> Iterator[tuple[str, float | None]]:
    """Figures by what they are, whatever the key is called there."""
    for name in ("n_visits", "last_age_h"):
        if name in item and n_taken == 1:
            yield name, item[name]
    if "next_batch" in item and item["next_batch"] is not None:  # a programme
        yield "own batch", item["own_batch"]["rms"]
        yield "later pour", item["next_batch"]["rms"]
        yield "inside", item["next_batch"]["within_tolerance"]
        yield "over", item["next_batch"]["over_predicted_beyond_tolerance"]
        yield "cost", item["cost"]
    elif ".alternatives[]" in where and item["name"].endswith(("trial batch", "trial batches")):
        yield "later pour", item["later_rms"]
        yield "inside", item["within_tolerance"]
        yield "cost", item["cost"]
    elif where.endswith(".sufficiency") and not item["is_reached"]:
        yield "later pour", item["rms"]
        yield "inside", item["within_tolerance"]
    elif "error" in item and isinstance(item["error"], dict):  # a rated choice
        yield "own batch", item["error"]["rms"]
        yield "cost", item["cost"]
        yield "score", item["score"]
    elif where.endswith(".estimate") and item["n_outside"] == 0:
        yield "cost", item["total"]
    elif ".frontier" in where:  # errors are pooled with their neighbours' there
        yield "cost", item["cost"]


def test_json_of_four_commands(stated: dict[str, Any]) -> None:
    found: dict[tuple[Key, str], list[tuple[str, float]]] = defaultdict(list)
    number = stated["recommend"]["recommended_programme"]["n_trial_batches"]
    curves = {}
    for command, document in stated.items():
        for _where, item in schedules(document, command):
            ages, counts = tuple(item["ages_h"]), tuple(item["specimens"])
            if "curve" in item:
                curves.setdefault((ages, counts), item["curve"])
    for command, document in stated.items():
        for where, item in schedules(document, command):
            ages, counts = tuple(item["ages_h"]), tuple(item["specimens"])
            curve = item.get("curve", curves.get((ages, counts), ""))
            n = item.get("n_trial_batches", number)
            for name, value in facts(where, item, n):
                if value is not None:
                    found[(ages, counts, curve, n), name].append((where, value))
    several = {name: 0 for _, name in found}
    for (key, name), values in found.items():
        places = [f"{where}: {value}" for where, value in values]
        np.testing.assert_allclose(
            [v for _, v in values], values[0][1], rtol=RELATIVE, err_msg=f"{key} {name} {places}"
        )
        several[name] += len({where.split(".")[0] for where, _ in values}) > 1
    assert {name for name, n in several.items() if n} >= {"own batch", "later pour", "inside", "cost"}, several
    named = stated["recommend"]["recommended_programme"]
    key: Key = (tuple(named["ages_h"]), tuple(named["specimens"]), named["curve"], number)
    commands = {where.split(".")[0] for where, _ in found[key, "later pour"]}
    assert commands == {"recommend", "price", "minimum", "score"}, commands


def cells(programme: dict[str, Any]) -> tuple[str, ...]:
    """A programme's row as it is printed: trial batches, specimens in all, errors, share inside, money."""
    later = programme["next_batch"]
    return (
        str(programme["n_trial_batches"]),
        str(programme["n_specimens"]),
        f"{100 * programme['own_batch']['rms']:.1f} %",
        f"{100 * later['rms']:.1f} %",
        f"{100 * later['within_tolerance']:.0f} %",
        f"{programme['cost']:.0f}",
    )


def listed(document: dict[str, Any]) -> list[dict[str, Any]]:
    return [item for item in document["recommend"]["programmes"] if item["own_batch"] is not None]


def rows_of_page(page: str) -> list[list[str]]:
    """Cells of every table row, tags and joining spaces taken out."""
    rows = re.findall(r"<tr[^>]*>(.*?)</tr>", page, flags=re.DOTALL)
    return [
        [
            re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", cell)).replace("\u00a0", " ").strip()
            for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, flags=re.DOTALL)
        ]
        for row in rows
    ]


def test_page(stated: dict[str, Any], written: Path) -> None:
    rows = rows_of_page((written / "report.html").read_text(encoding="utf-8"))
    head = next(row for row in rows if row[:1] == ["trial batches"] and "own batch RMS" in " ".join(row))
    assert [head.index(name) for name in ("trial batches", "specimens in all")] == [0, 1]
    order = [0, 1, head.index("own batch RMS"), head.index("later pour RMS"), head.index("inside"), head.index("EUR")]
    shown = {tuple(row[place] for place in order) for row in rows if len(row) == len(head)}
    for programme in listed(stated):
        assert cells(programme) in shown, (cells(programme), shown)


def test_text(stated: dict[str, Any], plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run("recommend", str(plan), "--full")
    full = capsys.readouterr().out
    run("price", str(plan), "--full")
    priced = capsys.readouterr().out
    for programme in listed(stated):
        m, n, own, later, inside, cost = (re.escape(cell) for cell in cells(programme))
        assert re.search(rf"^\s+{m}\s+{n}\s.*\s{own}\s+{later}\s+{inside}\s+{cost}\b", full, flags=re.MULTILINE)
        assert re.search(
            rf"^[>* ]\s*{m}\s+{n}\s+{cost} EUR\s+{later}\s+{inside}\s+{own}\s", priced, flags=re.MULTILINE
        ), cells(programme)
    chosen = stated["recommend"]["recommended_programme"]
    row = cells(chosen)
    assert re.search(rf"^>\s+{row[0]}\s+{row[1]}\s+{row[5]} EUR\s+{re.escape(row[3])}", priced, flags=re.MULTILINE)
    assert len(re.findall(r"^>\s+\d+\s+\d+\s+\d+ EUR", priced, flags=re.MULTILINE)) == 1


def test_first_screen(stated: dict[str, Any], plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Both errors are those of the fixed programme; what choosing costs stands beside, by name."""
    run("recommend", str(plan))
    screen = " ".join(capsys.readouterr().out.split())
    programme, honest = stated["recommend"]["recommended_programme"], stated["recommend"]["honest"]
    later = f"Later pour read {100 * programme['next_batch']['rms']:.1f} % off (RMS; "
    assert f"{later}choosing held out {100 * honest['next_batch']['rms']:.1f} %" in screen
    own = f"Own batch read {100 * programme['own_batch']['rms']:.1f} % off (RMS; "
    assert f"{own}choosing held out {100 * honest['own_batch']['nested_rms']:.1f} %" in screen


def test_workbook(stated: dict[str, Any], written: Path) -> None:
    sheet = openpyxl.load_workbook(written / "workbook.xlsx")["Programmes"]
    rows = list(sheet.iter_rows(values_only=True))
    head = next(row for row in rows if row and row[0] == "trial batches")
    place = {name: head.index(name) for name in head if name}
    shown = [row for row in rows if isinstance(row[0], int)]
    programmes = listed(stated)
    assert len(shown) == len(programmes)
    for row, programme in zip(shown, programmes, strict=True):
        later = programme["next_batch"]
        for name, wanted in (
            ("trial batches", programme["n_trial_batches"]), ("specimens in all", programme["n_specimens"]),
            ("own batch RMS", programme["own_batch"]["rms"]), ("later pour RMS", later["rms"]),
            ("own batch inside", programme["own_batch"]["within_tolerance"]),
            ("later pour inside", later["within_tolerance"]),
            ("later pour over-predicted", later["over_predicted_beyond_tolerance"]),
            ("cost", programme["cost"]), ("visits", programme["n_visits"]),
        ):  # fmt: skip
            assert row[place[name]] == pytest.approx(wanted, rel=1e-6), name
    assert [row[-1] for row in shown].count("recommended") == 1 or "recommended" in {
        cell for row in shown for cell in row
    }
