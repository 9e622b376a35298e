"""The README shows what its first command prints: the demo through the engine itself."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.cli.main import main

ROOT = Path(__file__).parents[2]
EXCERPT = re.compile(r"opened at 6 h, loaded at 1 d \(excerpt\):\n\n((?: {4}.*\n)+)")


def test_every_line_of_the_excerpt_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    found = EXCERPT.search((ROOT / "README.md").read_text(encoding="utf-8"))
    assert found is not None
    with pytest.raises(SystemExit) as ended:
        main(["recommend", str(ROOT / "scenarios" / "runway-panels" / "plan.toml")])
    assert not ended.value.code
    printed = " ".join(capsys.readouterr().out.split())
    # a line that goes on is indented further
    lines = [" ".join(line.split()) for line in re.sub(r"\n {5,}", " ", found[1]).splitlines()]
    assert len(lines) >= 9
    assert [line for line in lines if line not in printed] == []
