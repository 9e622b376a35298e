"""Sentences that readers see are written in the rooms of words alone, each once."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "planner"
FEWEST_WORDS = 4  # of a sentence

WORD_ROOMS = {
    "verdict/wording/": "what the answers say",
    "issued_curve/wording/": "what is said of an issued curve, its pours and its checks",
    "issued_curve/rules/rule_words.py": "the rules of an issued curve, for sheet, page and clause alike",
    "evidence/record_words.py": "what is said of the records while they are sorted",
    "population/wording/": "what is said of drawn batches and of what they are drawn from",
    "laboratory/clock/clock_words.py": "what is said of breaks on the clock",
    "laboratory/costs/line_words.py": "what the lines of an estimate are called",
    "conversion/conversion_cautions.py": "what is said of breaks in two geometries",
    "choices/limit_words.py": "which limits of a plan a schedule does not keep",
    "report/": "headings, tables and pages",
    "read/": "complaints about files, with row and column, and doubts about what they hold",
    "cli/": "help, progress and messages of the commands",
    "starter/": "comments in the plan that `start` writes",
}
OF_THE_MACHINE = {
    "compiled.py": "where compiled code is kept",
    "resampling/search/checkpoints.py": "pieces that were kept",
    "resampling/search/executors.py": "schedulers and workers",
    "resampling/search/kept_files.py": "folders that others may write into",
    "questions/": "files that are not written over, and how to go on",
    "sweeping/": "rows that were kept, plans that were not found",
}
SOURCES = {
    "population/published_growth.py": "what each law is used for, and who says so",
    "terms/plan/tolerances.py": "what a standard's tolerances are for",
    "terms/plan/third_specimen.py": "who states a rule for the third specimen",
}  # beside the values that they are the sources of
REFUSALS = {
    "choices/count_choices.py too_many",
    "choices/enumerate.py _why_none",
    "regressor.py _check_ages",
    "terms/plan/tolerances.py _not_covered",
    "verdict/answers/continuing/trial_batch.py _no_known_age",
    "verdict/answers/continuing/trial_batch.py _unreadable",
}  # functions that word what their callers raise


def texts(tree: ast.AST) -> Iterator[tuple[str, str]]:
    """Function and whole text of every string, values in it as {}; docstrings and what is refused are left out."""
    yield from _texts(tree, "")


def _texts(node: ast.AST, inside: str) -> Iterator[tuple[str, str]]:
    if _is_docstring(node) or _is_refused(node, inside):
        return
    if isinstance(node, ast.JoinedStr):
        yield inside, "".join(str(item.value) if isinstance(item, ast.Constant) else "{}" for item in node.values)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield inside, node.value
    for child in ast.iter_child_nodes(node):
        if isinstance(node, ast.JoinedStr) and isinstance(child, ast.Constant):
            continue
        yield from _texts(child, node.name if isinstance(node, ast.FunctionDef) else inside)


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_refused(node: ast.AST, inside: str) -> bool:
    """A message is worded where input is refused: in `raise`, in a `Problem`, in a function that lists faults."""
    is_problem = isinstance(node, ast.Call) and ast.unparse(node.func) == "Problem"
    return isinstance(node, (ast.Raise, ast.Assert)) or is_problem or "fault" in inside


def is_sentence(text: str) -> bool:
    """Several words that begin like a sentence, with a capital or a value, or end like one."""
    text = text.strip()
    words = [word for word in text.split() if re.search("[A-Za-z]", word)]
    return len(words) >= FEWEST_WORDS and (text.endswith(".") or text[0].isupper() or text.startswith("{}"))


def test_sentences_are_written_in_the_rooms_of_words() -> None:
    elsewhere = []
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        if name.startswith((*WORD_ROOMS, *OF_THE_MACHINE, *SOURCES)):
            continue
        for function, text in texts(ast.parse(path.read_text(encoding="utf-8"))):
            if is_sentence(text) and f"{name} {function}" not in REFUSALS:
                elsewhere.append(f"{name} {function}: {text}")
    assert elsewhere == []


def test_every_room_of_words_is_there() -> None:
    names = [path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py")]
    empty = [
        room for room in (*WORD_ROOMS, *OF_THE_MACHINE, *SOURCES) if not any(name.startswith(room) for name in names)
    ]
    assert empty == []


def test_sentences_are_seen() -> None:
    tree = ast.parse(
        '"""A docstring of several words."""\n'
        'SAID = "This is told to readers."\n'
        'def said(n):\n    return f"There are {n} of the batches left, and they are {n}"\n'
        'def begun(n):\n    return f"{n} batches were left out"\n'
        'def ended(n):\n    return f"and that is all of {n} now."\n'
        'def refused(n):\n    raise ValueError(f"This is a message of {n}.")\n'
        'def _faults(n):\n    yield "This is a message of refusal."\n'
        'KEY = "no sentence"\n'
        'PHRASE = "the end of another sentence"\n'
    )
    assert [(function, text) for function, text in texts(tree) if is_sentence(text)] == [
        ("", "This is told to readers."),
        ("said", "There are {} of the batches left, and they are {}"),
        ("begun", "{} batches were left out"),
        ("ended", "and that is all of {} now."),
    ]
