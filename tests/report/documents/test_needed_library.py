"""Files that an extra's library makes, where it is not installed: one message naming the line that installs it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from planner.report.documents.clause_file import clause_docx
from planner.report.documents.result_files import result_files
from planner.terms.problems import InputError
from tests.report.invented_answers import invented_clause
from tests.report.invented_result import invented_recommendation
from tests.report.sheets.test_workbook import SETTINGS


def test_pictures_without_matplotlib(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    drawing = "planner.report.figures.drawing.image_drawing"
    loaded = [name for name in sys.modules if name.partition(".")[0] == "matplotlib" or name == drawing]
    for name in loaded:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    asked = {"castings": (), "has_all_choices": False, "folder": tmp_path}
    assert "report.html" in result_files(invented_recommendation(), SETTINGS, has_figures=False, **asked)
    with pytest.raises(InputError, match=r'pip install "test-age-planner\[figures\]"'):
        result_files(invented_recommendation(), SETTINGS, has_figures=True, **asked)


def test_the_clause_without_python_docx(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] == "docx"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "docx", None)
    with pytest.raises(InputError, match=r'pip install "test-age-planner\[documents\]"'):
        clause_docx(invented_clause(), title="Panels")
