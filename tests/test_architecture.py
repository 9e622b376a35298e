"""What the house asks of every file, counted."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "planner"
MOST_FILES = 15  # of a room, its table of contents among them
MOST_PARAMETERS = 6  # positional ones; what is named where it is called may be more


def files() -> list[Path]:
    return sorted(path.relative_to(PACKAGE) for path in PACKAGE.rglob("*.py"))


def trees() -> Iterator[tuple[Path, ast.Module]]:
    return ((path, ast.parse((PACKAGE / path).read_text(encoding="utf-8"))) for path in files())


def compiled_names(tree: ast.Module) -> set[str]:
    """Functions that are compiled: loops take arrays one by one."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and any("njit" in ast.unparse(item) for item in node.decorator_list):
            names.add(node.name)
        if isinstance(node, ast.Call) and "compiled" in ast.unparse(node.func):
            names |= {argument.id for argument in node.args if isinstance(argument, ast.Name)}
    return names


def n_natural(function: ast.FunctionDef) -> int:
    """Parameters that are given by their place, the object itself not counted."""
    given = [item.arg for item in (*function.args.posonlyargs, *function.args.args)]
    return len([name for name in given if name not in ("self", "cls")])


def with_many(tree: ast.Module) -> list[str]:
    """Functions that are not compiled with too many natural parameters, and how many they have."""
    many = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and n_natural(node) > MOST_PARAMETERS]
    compiled = compiled_names(tree) if many else set()
    return [f"{node.name} has {n_natural(node)}" for node in many if node.name not in compiled]


def test_no_function_has_many_natural_parameters() -> None:
    assert [f"{path}: {one}" for path, tree in trees() for one in with_many(tree)] == []


def test_no_room_holds_many_files() -> None:
    rooms = Counter(path.parent.as_posix() for path in files())
    assert [f"{room}: {n}" for room, n in rooms.items() if n > MOST_FILES] == []


def test_no_two_files_share_a_name() -> None:
    """But for the command that is named like what it makes."""
    names = Counter(path.name for path in files() if path.name != "__init__.py" and path.parent.name != "cli")
    assert [name for name, n in names.items() if n > 1] == []


def test_the_count_sees_what_it_should() -> None:
    tree = ast.parse(
        "@njit(cache=True)\ndef loop(a, b, c, d, e, f, g): ...\n"
        "class Room:\n    def many(self, a, b, c, d, e, f, g, *, h): ...\n"
        "    def few(self, a, b, c, d, e, f, *, h): ...\n"
    )
    functions = {node.name: node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    assert compiled_names(tree) == {"loop"}
    assert (n_natural(functions["many"]), n_natural(functions["few"])) == (7, 6)
    assert with_many(tree) == ["many has 7"]
