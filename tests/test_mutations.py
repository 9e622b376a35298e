"""The tool that makes wrong edits: the right places, one edit at a time, and what becomes of it."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from planner import compiled
from tests.mutations import main, mapped_tests, seconds_of, spread
from tests.wrong_edits import edits_of

TEXT = '''"""Not - this."""
import numpy as np
from scipy.special import ndtri

def spread(values: "a - b", weights, axis=0):
    scale = np.sqrt(values[1:] ** 2) / (len(values) - 1)
    if values and (scale
            < weights):
        raise ValueError("a" + f"{1 - 2}")
    return np.maximum(scale, ndtri(0.9)) - (weights + values).std(ddof=1, axis=-1)
'''
WANTED = {
    ("root", "(values[1:] ** 2)"),
    ("root", "abs(values[1:])"),
    ("one off", "2"),
    ("factor 2", "2.0 * np.sqrt(values[1:] ** 2) / (len(values) - 1)"),
    ("n for n - 1", "(len(values))"),
    ("sign", "+"),
    ("sign", "-"),
    ("condition", "not (values and (scale\n            < weights))"),
    ("comparison", ">="),
    ("extreme", "minimum"),
    ("quantile", "(1 - (0.9))"),
    ("n for n - 1", "0"),
    ("axis", "0"),
}


def test_every_kind_is_found_where_it_is():
    edits = edits_of(Path("a.py"), TEXT)
    assert {(edit.kind, edit.after) for edit in edits} == WANTED
    assert {edit.line for edit in edits if edit.kind == "comparison"} == {7}
    assert [edit.before for edit in edits if edit.kind == "sign"] == ["-", "-", "+"]


def test_every_edit_changes_the_program_and_can_be_read():
    for file in sorted(Path(__file__).parents[1].glob("planner/verdict/**/*.py")):
        text = file.read_text(encoding="utf-8")
        before = ast.dump(ast.parse(text))
        for edit in edits_of(file, text)[::40]:
            changed = ast.parse(edit.applied(text.encode()).decode())
            assert ast.dump(changed) != before, str(edit)


def test_neighbours_are_swapped_with_the_names_they_are_given_under():
    (first, second) = edits_of(Path("a.py"), "f(a, b.c, g(1), low=d[0], high=e)\n")[:1] + [
        edit for edit in edits_of(Path("a.py"), "f(low=d, high=e)\n") if edit.kind == "swapped"
    ]
    assert (first.after, second.after) == ("b.c, a", "e, high=d")


def test_edits_are_spread_over_kinds_and_repeat_with_the_seed():
    edits = edits_of(Path("a.py"), TEXT)
    taken = spread(edits, most=10, seed=3)
    assert {edit.kind for edit in taken} == {kind for kind, _ in WANTED}
    assert taken == spread(edits, most=10, seed=3) != spread(edits, most=10, seed=4)
    assert spread(edits, most=99, seed=3) == edits


@pytest.fixture
def tree(tmp_path):
    (tmp_path / "planner" / "room").mkdir(parents=True)
    (tmp_path / "tests" / "room").mkdir(parents=True)
    (tmp_path / "planner" / "room" / "sums.py").write_text(
        "def less(a):\n    return a - 3\n\ndef more(a):\n    return a + 3\n"
    )
    (tmp_path / "tests" / "room" / "test_others.py").write_text("def test_nothing():\n    pass\n")
    (tmp_path / "tests" / "room" / "test_sums.py").write_text(
        "from planner.room.sums import less\n\ndef test_less():\n    assert less(5) == 2\n"
    )
    return tmp_path


def test_what_a_test_asserts_is_caught_and_what_none_asserts_survives(tree, capsys):
    before = {path: path.read_bytes() for path in tree.rglob("*") if path.is_file()}
    assert main(["planner/room", "--most", "9"], tree) == 1
    ran = capsys.readouterr().out
    assert "caught    planner/room/sums.py:2: sign: -  ->  +   in: return a - 3" in ran
    assert "survived:\n  planner/room/sums.py:5: sign: +  ->  -   in: return a + 3" in ran
    assert "1 of 2 caught (50%)" in ran
    assert {path: path.read_bytes() for path in tree.rglob("*") if path.is_file()} == before


def test_nothing_is_tried_where_tests_fail_anyway(tree, capsys):
    (tree / "tests" / "room" / "test_others.py").write_text("def test_nothing():\n    assert False\n")
    assert main(["planner/room/sums.py"], tree) == 2
    assert "do not pass on the unedited copy" in capsys.readouterr().out


@pytest.fixture
def compiled_tree(tree):
    """With a loop that calls one in another file."""
    fitting = tree / "planner" / "fitting"
    for folder in (fitting, tree / "tests" / "fitting"):
        folder.mkdir()
    shutil.copy(compiled.__file__, tree / "planner")
    loop = "from planner.compiled import njit\n{}\n@njit(cache=True)\ndef {}():\n    return {}\n"
    (fitting / "called.py").write_text(loop.format("", "once", "2 + 1"))
    (fitting / "caller.py").write_text(loop.format("from planner.fitting.called import once", "twice", "once()"))
    (tree / "tests" / "fitting" / "test_caller.py").write_text(
        "from planner.fitting.caller import twice\n\ndef test_twice():\n    assert twice() == 3\n"
    )
    return tree


def test_code_compiled_before_an_edit_is_not_used_after_it(compiled_tree, capsys):
    """The edit is in a called file; its caller was compiled with what it called before."""
    tree = compiled_tree
    main(["planner/fitting/called.py"], tree)
    ran = capsys.readouterr().out
    assert "caught    planner/fitting/called.py:5: sign: +  ->  -" in ran
    assert "survived " not in ran


def test_what_the_tree_has_compiled_is_taken_along(compiled_tree, capsys, monkeypatch):
    tree = compiled_tree
    monkeypatch.setenv(compiled.VARIABLE, str(tree / "kept"))
    test = tree / "tests" / "fitting" / "test_caller.py"
    test.write_text(test.read_text() + "    assert twice.stats.cache_hits\n")
    surroundings = os.environ | {"PYTHONPATH": str(tree)}
    command = "from planner.fitting.caller import twice; twice()"
    subprocess.run([sys.executable, "-c", command], cwd=tree, env=surroundings, check=True)
    main(["planner/fitting/called.py"], tree)
    assert "caught    planner/fitting/called.py:5: sign" in capsys.readouterr().out


def test_the_quickest_of_equally_likely_tests_comes_first(tree):
    (tree / "tests" / "room" / "test_more.py").write_text("def test_nothing():\n    pass\n")
    printed = (
        "0.50s call     tests/room/test_more.py::test_nothing\n0.25s setup    tests/room/test_more.py::test_nothing\n"
        "0.70s call     tests/room/test_others.py::test_nothing\n9.00s call     tests/room/test_sums.py::test_less[a]\n"
    )
    seconds = seconds_of(printed)
    assert seconds == {
        "tests/room/test_more.py": 0.75,
        "tests/room/test_others.py": 0.7,
        "tests/room/test_sums.py": 9.0,
    }
    assert mapped_tests(tree, Path("planner/room/sums.py"), seconds) == [
        "tests/room/test_sums.py", "tests/room/test_others.py", "tests/room/test_more.py"
    ]  # fmt: skip


def test_tests_with_the_name_of_the_module_come_first(tree):
    assert mapped_tests(tree, Path("planner/room/sums.py")) == ["tests/room/test_sums.py", "tests/room/test_others.py"]
