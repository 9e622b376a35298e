"""Commands that keep what they print."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.statistics.recording import recorded
from tests.statistics.results_file import read_sections


def test_what_is_printed_is_shown_and_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "RESULTS.md"
    with recorded("python -m tests.statistics.nothing --fresh 5", path):
        print("first")
        print("second", flush=True)
    assert capsys.readouterr().out == "first\nsecond\n"
    (name, text), *others = read_sections(path).items()
    assert not others
    assert name == "tests.statistics.nothing"
    assert "`python -m tests.statistics.nothing --fresh 5`" in text
    assert dt.date.today().isoformat() in text
    assert "```text\nfirst\nsecond\n```" in text


def record_halfway(path: Path) -> None:
    with recorded("python -m one", path, is_markdown=True):
        print("| b |")
        raise ValueError("halfway")


def test_a_failed_run_leaves_what_stood_there(tmp_path: Path) -> None:
    path = tmp_path / "RESULTS.md"
    with recorded("python -m one", path, is_markdown=True):
        print("| a |")
    with pytest.raises(ValueError, match="halfway"):
        record_halfway(path)
    assert "| a |" in read_sections(path)["one"]
    assert "```" not in read_sections(path)["one"]
