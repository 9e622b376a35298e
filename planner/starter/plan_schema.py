"""The JSON Schema of a plan, for editors that complete and check while one types."""

from __future__ import annotations

from typing import Any

from planner.read.plan.plan_tables import LISTS, REQUIRED, TABLES

DRAFT = "http://json-schema.org/draft-07/schema#"


def plan_schema() -> dict[str, Any]:
    """The schema, made from the tables that read the plan. Passing it is no promise that the plan can be used."""
    lists = {name: {"type": "array", "items": model.model_json_schema(by_alias=True)} for name, model in LISTS.items()}
    tables = {name: model.model_json_schema(by_alias=True) for name, model in TABLES.items()}
    return {
        "$schema": DRAFT,
        "title": "Plan of a strength-maturity calibration",
        "type": "object",
        "additionalProperties": False,
        "required": list(REQUIRED),
        "properties": {"title": {"type": "string", "description": "appears on every output"}, **tables, **lists},
    }
