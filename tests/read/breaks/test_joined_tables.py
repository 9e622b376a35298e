"""Records that grow: several tables of breaks and of temperatures in one plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.read import load_plan
from planner.terms.problems import InputError

PLAN = """
[prior]
breaks = {breaks}
temperatures = {temperatures}
standard_curing_c = 20
[target]
ages = ["1 d"]
tolerance = "10 %"
[choices]
ages = ["6 h", "12 h", "1 d"]
fewest_ages = 2
most_ages = 3
specimens_per_age = [2, 3]
[budget]
specimens = 9
"""


def table(folder: Path, name: str, *batches: str, head: str = "batch,mix,curing,age_h,strength_mpa") -> None:
    rows = [f"{batch},panel,site,{age},{age + 10}" for batch in batches for age in (6, 12, 24)]
    (folder / name).write_text("\n".join([head, *rows]), encoding="utf-8")


def readings(folder: Path, name: str, *batches: str, until_h: int = 30) -> None:
    rows = [f"{batch},site,{hour},25" for batch in batches for hour in range(until_h + 1)]
    (folder / name).write_text("\n".join(["batch,curing,elapsed_h,temperature_c", *rows]), encoding="utf-8")


def planned(folder: Path, breaks: str = '["one.csv", "two.csv"]', temperatures: str = '["t1.csv", "t2.csv"]') -> Path:
    path = folder / "plan.toml"
    path.write_text(PLAN.format(breaks=breaks, temperatures=temperatures), encoding="utf-8")
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    table(tmp_path, "one.csv", "B1", "B2")
    table(tmp_path, "two.csv", "trial-1")
    readings(tmp_path, "t1.csv", "B1", "B2")
    readings(tmp_path, "t2.csv", "trial-1")
    return tmp_path


def test_tables_are_joined_in_their_order(folder: Path) -> None:
    plan = load_plan(planned(folder))
    assert plan.records.batches == ("B1", "B2", "trial-1")
    assert {record.batch for record in plan.records.curing_records} == {"B1", "B2", "trial-1"}
    assert [name for name, _ in plan.inputs] == ["plan.toml", "one.csv", "two.csv", "t1.csv", "t2.csv"]
    assert plan.records.cautions == ()


def test_one_name_still_means_one_table(folder: Path) -> None:
    plan = load_plan(planned(folder, '"one.csv"', '"t1.csv"'))
    assert plan.records.batches == ("B1", "B2")


def test_a_column_that_one_table_lacks_is_said_to_lack(folder: Path) -> None:
    (folder / "two.csv").write_text("batch,curing,age_h,strength_mpa\ntrial-1,site,24,30\n", encoding="utf-8")
    plan = load_plan(planned(folder))
    assert not plan.records.has_mix_column
    assert plan.records.has_curing_column


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda folder: table(folder, "two.csv", "B2", "trial-1"), 'two.csv: Batch "B2" stands in one.csv too'),
        (
            lambda folder: readings(folder, "t2.csv", "B1", "trial-1"),
            "t2.csv: The temperatures of .* in t1.csv too",
        ),
        (lambda folder: readings(folder, "t2.csv", "trial-1", until_h=10), "two.csv, row 3: The break is at 12 h"),
        (lambda folder: (folder / "two.csv").unlink(), "two.csv: There is no such file"),
        (lambda folder: table(folder, "two.csv", "trial-1", head="batch,mix,curing,age_h,strenght_mpa"), "two.csv, "),
    ],
    ids=["batch twice", "temperatures twice", "record too short", "missing", "misspelt"],
)
def test_faults_name_their_file(folder: Path, change, message: str) -> None:
    change(folder)
    with pytest.raises(InputError, match=message):
        load_plan(planned(folder))


@pytest.mark.parametrize("breaks", ["[]", '["one.csv", "one.csv"]', "[1]", "1"])
def test_lists_that_name_no_files_are_refused(folder: Path, breaks: str) -> None:
    with pytest.raises(InputError, match=r"prior\.breaks"):
        load_plan(planned(folder, breaks))


def test_every_fault_of_every_table_is_told_at_once(folder: Path) -> None:
    for name in ("one.csv", "two.csv"):
        text = (folder / name).read_text(encoding="utf-8").replace(",24,34", ",24,strong")
        (folder / name).write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_plan(planned(folder))
    assert [problem.file for problem in caught.value.problems] == ["one.csv", "one.csv", "two.csv"]
