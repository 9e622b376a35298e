"""The bytes of a plan into its tables, each checked by itself, so that one fault does not hide another."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from planner.read.parsing.findings import Findings, shown
from planner.read.parsing.nearest_name import nearest
from planner.read.parsing.quantities import NO_COMMAS
from planner.read.plan.plan_table import PlanTable
from planner.read.plan.plan_tables import LISTS, REQUIRED, TABLES, keys_of
from planner.terms.labels import listed
from planner.terms.plan.settings import OutputUnits

MOST_PLAN_BYTES = 5_000_000
MOST_ENTRIES = 8  # of tables that may stand several times
_NUMBER_WITH_COMMA = re.compile(rb"^[ \t]*\w+[ \t]*=[ \t]*\d+,\d", re.MULTILINE)
MOST_DOTS = 1_000  # in one line: a key of n dotted parts costs the reader of TOML n^2 steps


@dataclass(slots=True)
class RawPlan:
    """What a plan says, before it is put together."""

    title: str = ""
    given: Mapping[str, Any] = field(default_factory=dict)  # as written
    tables: dict[str, PlanTable] = field(default_factory=dict)  # the faultless ones
    lists: dict[str, tuple[PlanTable, ...]] = field(default_factory=dict)  # of tables that may stand several times

    @property
    def output_units(self) -> OutputUnits:
        """Units that outputs are asked for, messages about a plan with faults included."""
        return "US" if self.text("output", "units") == "US" else "SI"

    def text(self, table: str, key: str) -> str | None:
        """Give a text even of a table that has faults elsewhere, None where it gives none."""
        keys = self.given.get(table)
        value = keys.get(key) if isinstance(keys, dict) else None
        return value.strip() or None if isinstance(value, str) else None

    def texts(self, table: str, key: str) -> tuple[str, ...]:
        """Give one text or a list of texts even of a table that has faults elsewhere; empty where it gives none."""
        keys = self.given.get(table)
        value = keys.get(key) if isinstance(keys, dict) else None
        listed_texts = value if isinstance(value, list) else [value]
        found = [item.strip() for item in listed_texts if isinstance(item, str) and item.strip()]
        return tuple(dict.fromkeys(found))


def read_plan_tables(file: str, content: bytes, findings: Findings) -> RawPlan:
    """Read a plan as far as it can be read; every fault is in the findings."""
    given = _parsed(file, content, findings)
    plan = RawPlan()
    if given is None:
        return plan
    plan.given = given
    _report_unknown_tables(file, given, findings)
    title = given.get("title", "")
    if isinstance(title, str):
        plan.title = title.strip()
    else:
        findings.problem(file, f"Given {shown(title)}, which is no text. Write it in quotes.", column="title")
    for name, model in TABLES.items():
        table = _table(file, name, model, given, findings)
        if table is not None:
            plan.tables[name] = table
    for name, model in LISTS.items():
        plan.lists[name] = _tables(file, name, model, given, findings)
    return plan


def _parsed(file: str, content: bytes, findings: Findings) -> dict[str, Any] | None:
    if len(content) > MOST_PLAN_BYTES:
        findings.problem(
            file, f"The plan has {len(content) / 1e6:.0f} MB, more than {MOST_PLAN_BYTES / 1e6:g} MB. "
            "Is this the plan?"
        )  # fmt: skip
        return None
    dotted = next((n for n, line in enumerate(content.splitlines(), start=1) if line.count(b".") > MOST_DOTS), None)
    if dotted is not None:
        findings.problem(
            file, f"Line {dotted} has more than {MOST_DOTS:,} dots. Plans have tables of keys, nothing deeper."
        )  # fmt: skip
        return None
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        findings.problem(file, "The plan is no UTF-8 text. Save it as UTF-8.")
    except RecursionError:
        findings.problem(file, "The plan is nested too deeply. Plans have tables of keys, nothing deeper.")
    except ValueError as error:  # TOMLDecodeError, and numbers too long to be read
        findings.problem(file, f"This is not TOML: {str(error)[:200]}. Correct the line.{_comma_hint(content)}")
    return None


def _comma_hint(content: bytes) -> str:
    """What to write where a comma stands in a number, which TOML does not know."""
    return f" {NO_COMMAS}" if _NUMBER_WITH_COMMA.search(content) else ""


def _report_unknown_tables(file: str, given: Mapping[str, Any], findings: Findings) -> None:
    known = ("title", *TABLES, *LISTS)
    for name in given:
        if name in known:
            continue
        homes = [table for table in TABLES if name in keys_of(table)]
        if homes:
            advice = f"It belongs under {listed(f'[{home}]' for home in homes)}."
        else:
            near = nearest(name, known)
            advice = f'The nearest known is "{near}".' if near else f"Known are {listed(known, most=20)}."
        findings.problem(file, f"{shown(name)} is not known here. {advice}", column=name[:80])


def _table(
    file: str, name: str, model: type[PlanTable], given: Mapping[str, Any], findings: Findings
) -> PlanTable | None:
    keys = given.get(name)
    if keys is None:
        if name in REQUIRED:
            findings.problem(
                file, f"The table [{name}] is missing. It needs {listed(_required_keys(name))}.", column=name
            )
            return None
        return None
    if not isinstance(keys, dict):
        findings.problem(file, f"Given {shown(keys)}; write it as a table: [{name}].", column=name)
        return None
    try:
        return model.model_validate(keys)
    except ValidationError as error:
        for fault in error.errors(include_url=False):
            _report(file, name, keys, fault, findings)
    return None


def _tables(
    file: str, name: str, model: type[PlanTable], given: Mapping[str, Any], findings: Findings
) -> tuple[PlanTable, ...]:
    """The entries of a list of tables; the faults of all of them are told."""
    entries = given.get(name, [])
    if not isinstance(entries, list):
        findings.problem(file, f"Given {shown(entries)}; write every entry as a table: [[{name}]].", column=name)
        return ()
    if len(entries) > MOST_ENTRIES:
        findings.problem(file, f"There are {len(entries)}, more than {MOST_ENTRIES}. Leave some out.", column=name)
        return ()
    read: list[PlanTable] = []
    for number, keys in enumerate(entries, start=1):
        if not isinstance(keys, dict):
            findings.problem(file, f"Entry {number} is {shown(keys)}; write it as [[{name}]].", column=name)
            continue
        try:
            read.append(model.model_validate(keys))
        except ValidationError as error:
            for fault in error.errors(include_url=False):
                _report(file, name, keys, fault, findings, entry=f"Entry {number}: ")
    return tuple(read)


def _required_keys(name: str) -> list[str]:
    if name == "prior":
        return ["breaks"]
    return [key for key, field in TABLES[name].model_fields.items() if field.is_required()]


def _report(
    file: str, table: str, keys: Mapping[str, Any], fault: Mapping[str, Any], findings: Findings, *, entry: str = ""
) -> None:
    key = str(fault["loc"][0]) if fault["loc"] else ""
    column = f"{table}.{key}"[:80]
    kind = fault["type"]
    if kind == "extra_forbidden":
        text = _unknown_key(table, key)
    elif kind == "missing":
        text = "The key is missing. It is required."
    elif kind == "value_error":
        text = str(fault["ctx"]["error"])
    elif kind == "literal_error":
        allowed = str(fault["ctx"]["expected"]).replace("'", '"')
        text = f"Given {shown(keys.get(key))}; allowed are {allowed}."
    else:
        text = f"Given {shown(keys.get(key))}, which cannot be read: {fault['msg']}."
    findings.problem(file, f"{entry}{text}", column=column)


def _unknown_key(table: str, key: str) -> str:
    homes = [other for other in TABLES if key in keys_of(other)]
    near = nearest(key, keys_of(table), cutoff=0.6)
    if homes and near is None:
        places = listed(f"[{home}]" for home in homes)
        return f"The key {shown(key)} is not known in [{table}]. It belongs under {places}."
    near = near or nearest(key, keys_of(table), cutoff=0.0)
    return f'The key {shown(key)} is not known in [{table}]. The nearest known is "{near}".'
