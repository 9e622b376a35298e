"""Files that are not what their name says, not there, too large, or out of bounds."""

from __future__ import annotations

import io
import os
import re
import zipfile
from pathlib import Path

import pytest

from planner.read import check_plan, load_plan
from planner.read.parsing import file_bytes as files
from planner.read.tabular import cell_table as tables
from planner.read.tabular import csv_table
from planner.read.tabular import workbook_table as workbook
from planner.terms.problems import InputError
from tests.read.invented_study import break_rows, csv_bytes, only_problem, plan_text, write_study, xlsx_bytes


@pytest.mark.parametrize(
    ("break_file", "content", "message"),
    [
        ("breaks.csv", b"", "The file is empty"),
        ("breaks.csv", b"  \n\n ", "The file is empty"),
        ("breaks.csv", b"\xef\xbb\xbf\n,,\n", "The file holds no rows"),
        ("breaks.csv", csv_bytes(break_rows()[:1]), "headings but no rows"),
        ("breaks.csv", xlsx_bytes(break_rows()), "no text table"),
        ("breaks.csv", b'batch,age_h,strength_mpa\nB1,1,"' + b"x" * 200_000, "a quote that is not closed"),
        ("breaks.csv", b"batch," * 3000, "more than 2,000"),
        ("breaks.xlsx", b"PK\x03\x04 nonsense", "damaged or no workbook"),
        ("breaks.xlsx", csv_bytes(break_rows()), "damaged or no workbook"),
        ("breaks.xlsx", b"", "The file is empty"),
        ("breaks.xls", b"anything", 'ends in ".xls".*save it again'),
        ("breaks.txt", csv_bytes(break_rows()), r"Allowed: .csv or .xlsx"),
        ("breaks.xlsx", xlsx_bytes([["date", "who"], [1, 2]], sheet="Rota", before=("Cover",)),
         "No sheet has the columns batch, an age and a strength. The sheets are: Cover, Rota"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_said_plainly(tmp_path: Path, break_file: str, content: bytes, message: str) -> None:
    problem = only_problem(write_study(tmp_path, breaks=content, break_file=break_file))
    assert problem.file == break_file
    assert re.search(message, problem.text), problem.text


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    path = write_study(tmp_path)
    (tmp_path / "breaks.csv").unlink()
    assert "There is no such file" in only_problem(path).text
    (tmp_path / "breaks.csv").mkdir()
    assert "This is a folder" in only_problem(path).text


def test_something_that_never_ends_is_not_read(tmp_path: Path) -> None:
    path = write_study(tmp_path)
    (tmp_path / "breaks.csv").unlink()
    os.mkfifo(tmp_path / "breaks.csv")
    assert "no ordinary file" in only_problem(path).text


@pytest.mark.parametrize("name", ["\\u0000.csv", "x" * 5000 + ".csv", "~\\t.csv"])
def test_names_that_are_none(tmp_path: Path, name: str) -> None:
    path = write_study(tmp_path, plan=plan_text(prior=f'breaks = "{name}"'))
    assert only_problem(path).text


def test_paths_stay_in_the_folder_of_the_plan(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    folder.mkdir()
    outside = tmp_path / "breaks.csv"
    outside.write_bytes(csv_bytes(break_rows()))
    (folder / "link.csv").symlink_to(outside)
    for name in ("../breaks.csv", str(outside), "link.csv"):
        path = write_study(folder, plan=plan_text(prior=f'breaks = "{name}"'))
        problem = only_problem(path)
        assert (problem.file, problem.column) == (name, "prior.breaks")
        assert "leaves the folder of the plan" in problem.text
        assert len(load_plan(path, allow_outside=True).records.breaks) == 16


def test_a_subfolder_is_inside(tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    path = write_study(tmp_path, break_file="data/breaks.csv")
    assert [name for name, _ in load_plan(path).inputs] == ["plan.toml", "data/breaks.csv"]


def test_limits_of_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_study(tmp_path)
    monkeypatch.setattr(csv_table, "MOST_ROWS", 5)
    assert "more than 5 rows" in only_problem(path).text
    monkeypatch.setattr(files, "MOST_BYTES", 600)
    assert "more than 0 MB" in only_problem(path).text


def test_limits_of_workbooks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_study(tmp_path, break_file="breaks.xlsx")
    monkeypatch.setattr(workbook, "MOST_ROWS", 5)
    monkeypatch.setattr(workbook, "HEADER_SOUGHT_IN", 3)
    assert "more than 5 rows" in only_problem(path).text
    monkeypatch.setattr(workbook, "MOST_COLUMNS", 3)
    assert "more than 3" in only_problem(path).text


def test_a_workbook_that_unpacks_to_a_flood(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert workbook.MOST_UNZIPPED == 1_000_000_000
    monkeypatch.setattr(workbook, "MOST_UNZIPPED", 100_000_000)
    stream = io.BytesIO(xlsx_bytes(break_rows()))
    with (
        zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/flood.xml", "w") as part,
    ):
        block = bytes(10_000_000)
        for _ in range(11):
            part.write(block)
    problem = only_problem(write_study(tmp_path, breaks=stream.getvalue(), break_file="breaks.xlsx"))
    assert "unpacks to 0.1 GB" in problem.text


def test_a_workbook_that_declares_entities(tmp_path: Path) -> None:
    stream = io.BytesIO(xlsx_bytes(break_rows()))
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("xl/extra.xml", '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>')
    problem = only_problem(write_study(tmp_path, breaks=stream.getvalue(), break_file="breaks.xlsx"))
    assert "document types" in problem.text


def test_the_sheet_is_the_first_that_has_the_columns(tmp_path: Path) -> None:
    path = write_study(tmp_path, breaks=xlsx_bytes(break_rows(), before=("batch",)), break_file="breaks.xlsx")
    assert len(load_plan(path).records.breaks) == 16
    assert tables.MOST_ROWS == 2_000_000


def test_check_lists_what_load_raises(tmp_path: Path) -> None:
    path = write_study(tmp_path, breaks=b"")
    with pytest.raises(InputError, match=r"breaks.csv: The file is empty"):
        load_plan(path)
    assert check_plan(path)[0] is None
