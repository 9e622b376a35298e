"""Sections of the results file are written apart from each other."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.statistics.results_file import read_sections, write_section


def test_a_section_is_renewed_and_the_others_stay(tmp_path: Path) -> None:
    path = tmp_path / "RESULTS.md"
    write_section("b", "second\n\n| 1 |", path)
    write_section("a", "first", path)
    before = read_sections(path)
    write_section("a", "anew", path)
    assert before == {"a": "first", "b": "second\n\n| 1 |"}
    assert read_sections(path) == {"a": "anew", "b": "second\n\n| 1 |"}
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# Measured")
    assert text.index("anew") < text.index("second")
    assert text.count("anew") == 1
    assert "first" not in text


def test_the_order_of_writing_is_nothing(tmp_path: Path) -> None:
    one, other = tmp_path / "one.md", tmp_path / "other.md"
    for path, names in ((one, "ab"), (other, "ba")):
        for name in names:
            write_section(name, f"text of {name}", path)
    assert one.read_bytes() == other.read_bytes()


def test_marks_are_not_for_the_text(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="section mark"):
        write_section("a", "<!-- end b -->", tmp_path / "RESULTS.md")
