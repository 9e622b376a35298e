"""A plan as text: values with the comment of every key, written from the same tables that read it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from planner.read.plan.plan_table import PlanTable
from planner.read.plan.plan_tables import LISTS, TABLES

SCHEMA_FILE = "plan.schema.json"
COMMENT_COLUMN = 44  # where comments begin, or two blanks after a longer line
WIDEST = 119
OWN_MARK = "YOURS: "  # begins the comment of a line that every reader changes
OWN_LINES = frozenset(
    (
        *(("", "title"), ("mix", "name"), ("target", "ages")),
        *(("choices", "ages"), ("budget", "specimens")),
    )
)  # table and key
FULL_NOTE = "# Lines that begin with #key are keys that this plan does not use: take the # away to use one."


def plan_text(values: Mapping[str, Any], *, introduction: str, is_full: bool = False) -> str:
    """Write a plan.

    Parameters
    ----------
    values
        The plan as TOML reads it.
    introduction
        Comment lines at the top.
    is_full
        Also every key that the plan does not use, with an example, behind a #.
    """
    lines = [f"#:schema ./{SCHEMA_FILE}", *introduction.strip().splitlines()]
    if is_full:
        lines += ["#", FULL_NOTE]
    title = f"title = {_literal(values.get('title', ''))}"
    lines += ["", *_line(title, _marked("", "title", "appears on every output"))]
    for name, model in TABLES.items():
        given = values.get(name)
        if given is None and not is_full:
            continue
        lines.append("")
        heading = f"[{name}]" if given is not None else f"#[{name}]"
        lines += _line(heading, _first_sentence(model))
        lines += _keys(name, model, given or {}, is_full=is_full)
    for name, model in LISTS.items():
        entries = values.get(name) or ([{}] if is_full else [])
        for given in entries:
            lines.append("")
            lines += _line(f"[[{name}]]" if given else f"#[[{name}]]", _first_sentence(model))
            lines += _keys(name, model, given, is_full=is_full)
    return "\n".join(lines) + "\n"


def _marked(table: str, key: str, comment: str) -> str:
    return f"{OWN_MARK}{comment}" if (table, key) in OWN_LINES else comment


def _keys(table: str, model: type[PlanTable], given: Mapping[str, Any], *, is_full: bool) -> Iterator[str]:
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key in given:
            yield from _line(f"{key} = {_literal(given[key])}", _marked(table, key, field.description or ""))
        elif is_full:
            (example,) = field.examples or ("",)
            yield from _line(f"#{key} = {_literal(example)}", field.description or "")


def _line(content: str, comment: str) -> Iterator[str]:
    """One line; the comment stands above it where it does not fit beside."""
    line = f"{content:<{COMMENT_COLUMN - 2}}  # {comment}"
    if len(line) <= WIDEST:
        yield line
    else:
        yield f"# {comment}:"
        yield content


def _first_sentence(model: type[PlanTable]) -> str:
    text = (model.__doc__ or "").split(".")[0]
    return text[:1].lower() + text[1:]


def _literal(value: Any) -> str:
    """The value as TOML writes it."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{json.dumps(str(key))} = {_literal(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_literal, value)) + "]"
    return json.dumps(value, ensure_ascii=False)
