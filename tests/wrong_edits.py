"""Single wrong edits of a module: what a hand gets wrong, found in the syntax tree and made in the text."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

TURNED = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
SIGNS = {"+": "-", "-": "+"}
EXTREMES = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "argmin": "argmax", "argmax": "argmin",
    "floor": "ceil", "ceil": "floor",
}  # fmt: skip
# Where the share stands among the arguments; -1 the last.
QUANTILES = {
    "ppf": 0, "isf": 0, "ndtri": 0, "chndtrix": 0, "quantile": -1, "nanquantile": -1, "percentile": -1,
    "nanpercentile": -1, "chdtri": 1, "stdtrit": 1, "nctdtrit": -1, "btdtri": 2, "betaincinv": 2,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Edit:
    """One piece of text put in place of another."""

    kind: str
    file: Path  # from the top of the tree
    line: int  # from 1
    start: int  # in bytes from the start of the file
    end: int
    before: str
    after: str
    row: str  # the line as it stands

    def applied(self, source: bytes) -> bytes:
        """The file with this edit made."""
        return source[: self.start] + self.after.encode() + source[self.end :]

    def __str__(self) -> str:
        short = (" ".join(text.split()) for text in (self.before, self.after))
        return f"{self.file.as_posix()}:{self.line}: {self.kind}: {'  ->  '.join(short)}   in: {self.row}"


def edits_of(file: Path, text: str) -> list[Edit]:
    """Every wrong edit of one module, in the order of its text."""
    found = {(edit.start, edit.end, edit.after): edit for edit in _Finder(file, text).edits()}
    return sorted(found.values(), key=lambda edit: (edit.start, edit.kind, edit.after))


class _Finder:
    def __init__(self, file: Path, text: str) -> None:
        self._file = file
        self._source = text.encode()
        lines = self._source.splitlines(keepends=True)
        self._starts = [0]
        for line in lines:
            self._starts.append(self._starts[-1] + len(line))
        self._tree = ast.parse(text)

    def edits(self) -> Iterator[Edit]:
        for node in _walked(self._tree):
            match node:
                case ast.BinOp():
                    yield from self._arithmetic(node)
                case ast.UnaryOp(op=ast.USub(), operand=operand) if not isinstance(operand, ast.Constant):
                    yield self._edit("sign", node, f"({self._text(operand)})")
                case ast.Compare(ops=[_], left=left, comparators=[right]):
                    yield from self._operator("comparison", left, right, TURNED)
                case ast.Call():
                    yield from self._call(node)
                case ast.keyword(arg="axis", value=ast.UnaryOp() as value):
                    yield self._edit("axis", value, "0")
                case ast.keyword(arg="axis", value=ast.Constant(value=int(axis)) as value):
                    yield self._edit("axis", value, "1" if axis == 0 else "0")
                case ast.keyword(arg="ddof", value=ast.Constant(value=1) as value):
                    yield self._edit("n for n - 1", value, "0")
                case ast.Subscript(slice=inner):
                    yield from self._one_off(inner)
                case ast.If(test=test) | ast.IfExp(test=test) if not isinstance(test, ast.Compare):
                    yield self._edit("condition", test, f"not ({self._text(test)})")
                case ast.Tuple(elts=items, ctx=ast.Load()) | ast.List(elts=items, ctx=ast.Load()):
                    yield from self._swaps(items)

    def _arithmetic(self, node: ast.BinOp) -> Iterator[Edit]:
        left, right = node.left, node.right
        if _is_text(left) or _is_text(right):
            return
        yield from self._operator("sign", left, right, SIGNS)
        is_one = isinstance(right, ast.Constant) and right.value == 1
        if isinstance(node.op, ast.Sub) and is_one:
            yield self._edit("n for n - 1", node, f"({self._text(left)})")
        elif isinstance(node.op, ast.Mult | ast.Div):
            yield self._edit("factor 2", node, f"2.0 * {self._text(node)}")
        elif isinstance(node.op, ast.Pow) and isinstance(right, ast.Constant):
            if right.value == 0.5:
                yield self._edit("root", node, f"({self._text(left)})")
            elif right.value == 2:
                yield self._edit("root", node, f"abs({self._text(left)})")

    def _call(self, node: ast.Call) -> Iterator[Edit]:
        function = node.func
        name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
        if name == "sqrt" and len(node.args) == 1:
            yield self._edit("root", node, f"({self._text(node.args[0])})")
        if name in EXTREMES:
            end = self._place(function)[1]
            yield self._edit_at("extreme", node.lineno, end - len(name), end, EXTREMES[name])
        if name in QUANTILES and node.args:
            share = node.args[min(QUANTILES[name], len(node.args) - 1)]
            yield self._edit("quantile", share, f"({100 if 'percent' in name else 1} - ({self._text(share)}))")
        if name == "range" and node.args and not isinstance(node.args[-1], ast.Starred):
            yield self._edit("one off", node.args[-1], f"{self._text(node.args[-1])} + 1")
        yield from self._swaps(node.args)
        yield from self._swaps([keyword.value for keyword in node.keywords if keyword.arg])

    def _operator(self, kind: str, left: ast.expr, right: ast.expr, others: dict[str, str]) -> Iterator[Edit]:
        """Another operator between two operands, whatever brackets stand around them."""
        start, end = self._place(left)[1], self._place(right)[0]
        if found := re.fullmatch(rb"([\s)]*)([<>=!+-]+)[\s(]*", self._source[start:end]):
            operator = found[2].decode()
            if operator in others:
                at = start + len(found[1])
                yield self._edit_at(kind, left.lineno, at, at + len(operator), others[operator])

    def _swaps(self, items: list[ast.expr]) -> Iterator[Edit]:
        for here, there in pairwise(items):
            start, end = self._place(here)[0], self._place(there)[1]
            texts = self._text(here), self._text(there)
            between = self._source[self._place(here)[1] : self._place(there)[0]].decode()
            is_plain = re.fullmatch(r"\s*,\s*(\w+=)?", between)
            if is_plain and _is_simple(here) and _is_simple(there) and texts[0] != texts[1]:
                yield self._edit_at("swapped", here.lineno, start, end, f"{texts[1]}{between}{texts[0]}")

    def _one_off(self, inner: ast.expr) -> Iterator[Edit]:
        parts = inner.elts if isinstance(inner, ast.Tuple) else [inner]
        for part in parts:
            ends = [part.lower, part.upper] if isinstance(part, ast.Slice) else [part]
            for end in ends:
                if isinstance(end, ast.Constant) and isinstance(end.value, int) and not isinstance(end.value, bool):
                    yield self._edit("one off", end, str(end.value + 1))

    def _edit(self, kind: str, node: ast.expr, after: str) -> Edit:
        return self._edit_at(kind, node.lineno, *self._place(node), after)

    def _edit_at(self, kind: str, line: int, start: int, end: int, after: str) -> Edit:
        row = self._source[self._starts[line - 1] : self._starts[line]].decode().strip()
        return Edit(kind, self._file, line, start, end, self._source[start:end].decode(), after, row)

    def _text(self, node: ast.expr) -> str:
        start, end = self._place(node)
        return self._source[start:end].decode()

    def _place(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return (
            self._starts[node.lineno - 1] + node.col_offset,
            self._starts[node.end_lineno - 1] + node.end_col_offset,
        )


def _walked(node: ast.AST) -> Iterator[ast.AST]:
    """Every node that does something: no annotations, decorators, messages of errors or text with values in it."""
    yield node
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "type_params", "bases"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr | ast.Raise | ast.Assert):
                yield from _walked(child)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _is_simple(node: ast.expr) -> bool:
    """Something a hand could take for its neighbour."""
    if isinstance(node, ast.Name | ast.Attribute | ast.Constant):
        return True
    return isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name | ast.Attribute)
