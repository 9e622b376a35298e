"""What an editor takes for each kind of value: all that the readers take, and nothing plainly of another kind."""

from __future__ import annotations

from typing import Any

TEXT: dict[str, Any] = {"type": "string"}
NUMBER: dict[str, Any] = {"type": "number"}
DURATION = TEXT | {"pattern": r"^\s*[+-]?\d+([.,]\d+)?\s*[a-zA-Z]+\s*$"}
STRENGTH = TEXT | {"pattern": r"^\s*\d+([.,]\d+)?\s*([mM][pP][aA]|[kK][sS][iI]|[pP][sS][iI])\s*$"}


def any_of(*kinds: dict[str, Any]) -> dict[str, Any]:
    """One kind or another."""
    return {"anyOf": list(kinds)}


def at_least(least: int, kind: str = "number") -> dict[str, Any]:
    """A number, or whole number, from `least` on."""
    return {"type": kind, "minimum": least}


def list_of(kind: dict[str, Any], *, length: int | None = None) -> dict[str, Any]:
    """A list of values of one kind."""
    size = {"minItems": length, "maxItems": length} if length is not None else {}
    return {"type": "array", "items": kind} | size


SHARE = any_of(NUMBER, TEXT | {"pattern": r"^\s*[+-]?\d+([.,]\d+)?\s*%?\s*$"})
TEMPERATURE = any_of(NUMBER, TEXT | {"pattern": r"[CcFf]\s*$"})
