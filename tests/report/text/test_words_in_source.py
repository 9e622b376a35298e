"""Words that may stand in no text of the program, whichever output it reaches: every string is looked at.

Outputs of plans that happen to be tried show some sentences only; the source holds them all. Docstrings and comments
are no output.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
FORBIDDEN = {
    r"\brel(y|ied|ying) on\b|wait until|wait factor": "safe reading, safe-reading factor",
    r"\bpress\b": "testing machine",
    r"shape factor": "length/diameter correction",
    r"in the winner|\bwinner\b": "how often in the best schedule",
    r"\blater batch|\bnew batch(es)?\b|next batch\b|\bnext pour|\bnew pour": "own batch, later pour",
    r"\b\d+ MPa wait|wait until the curve": "no strength but the plan's own",
    r"lie within 1\d\d(\.\d)? %": "no useful bound",
    r"DEF[^.]*65 C[^.]*EN 13670|EN 13670[^.]*\b65 C\b|EN 13369[^.]*\b70 C\b": "65 C is EN 13369, 70 C EN 13670",
    r"truth was mixed": "what the truth was measured on",
    r"water meets cement": "the plan's own age zero",
    r"will be about": "which of the two errors it is",
    r"spares the wait": "only what is spared",
    r"beyond (\{\}|[\d.]+ %) (\d|\{\})": "a colon before what is counted",
    r"records separate the recommended": "what ties with it",
    r"\bsamples?\b|\btest set\b|\bmetric\b": "specimen, batch, error",
    r"real[- ]time|live (view|data|feed)|weather forecast|monitoring": "files and printed sheets",
    r"C39 toleranc": "the plan's own age tolerances",
}
ALLOWED = {
    ("clause_values.py", "the time water meets cement"): "where the plan says that age begins as water is added",
}
KEYS = frozenset(("next batch",))  # a value of a key in JSON, never shown


def _texts(source: str) -> Iterator[tuple[int, str]]:
    """Strings with their lines; values put into a text stand as ``{}``."""
    tree = ast.parse(source)
    silent: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                silent.add(id(first.value))
        if isinstance(node, ast.JoinedStr):
            silent.update(id(part) for part in node.values)
            yield node.lineno, "".join(str(p.value) if isinstance(p, ast.Constant) else "{}" for p in node.values)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent:
            yield node.lineno, node.value


def _found(name: str, text: str) -> list[str]:
    if text in KEYS or (name, text) in ALLOWED:
        return []
    return [
        f"{text[max(found.start() - 40, 0) : found.end() + 40]!r}: say {instead}"
        for pattern, instead in FORBIDDEN.items()
        if (found := re.search(pattern, text, re.IGNORECASE | re.DOTALL))
    ]


def test_no_text_of_the_program_has_a_forbidden_word() -> None:
    paths = sorted((ROOT / "planner").rglob("*.py"))
    assert len(paths) > 300
    said = [
        f"{path.relative_to(ROOT)}:{line}: {wrong}"
        for path in paths
        for line, text in _texts(path.read_text(encoding="utf-8"))
        for wrong in _found(path.name, text)
    ]
    assert not said, "\n".join(said)


def test_no_template_and_no_plan_has_one() -> None:
    paths = [
        *(ROOT / "planner" / "report" / "templates").glob("*.j2"),
        *(ROOT / "planner" / "report" / "templates").glob("*.js"),
        *(ROOT / "planner" / "starter").rglob("*.toml"),
        *(ROOT / "scenarios").rglob("*.toml"),
    ]
    assert len(paths) >= 14
    said = [f"{path.name}: {wrong}" for path in paths for wrong in _found(path.name, path.read_text(encoding="utf-8"))]
    assert not said, "\n".join(said)


@pytest.mark.parametrize(
    "text",
    [
        "To rely on 20 MPa wait until the curve reads 25 MPa.",
        "the truth was mixed specimens",
        "Ages count from the moment that water meets cement.",
        "90 % lie within 122.2 %",
        "delayed ettringite above 65 C (EN 13670); at 65 C EN 13670 limits it: EN 13670 says 65 C",
        "the wait factor is 1.2",
        "broken in the press",
        "the shape factor of C39",
        "in the winner 40 %",
        "the error on a later batch",
        "spares the wait for a later age",
        "24 checks, beyond 10.0 % 0 over-predicted",
    ],
)
def test_the_untrue_sentences_that_once_stood_there_are_found(text: str) -> None:
    assert _found("some.py", text)
