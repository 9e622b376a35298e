"""Values of a plan about money: the currency, the contingency, and prices that have no key of their own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, get_args

from pydantic import BeforeValidator, WithJsonSchema

from planner.read.parsing.findings import shown
from planner.read.parsing.nearest_name import nearest
from planner.read.parsing.quantities import parse_number, parse_share
from planner.read.plan.types.editor_kinds import SHARE, TEXT, at_least
from planner.read.plan.types.number_types import filled_text
from planner.terms.labels import listed
from planner.terms.plan.settings import CostBasis, OtherCost

BASES: tuple[CostBasis, ...] = get_args(CostBasis)
LONGEST_CURRENCY = 8
LONGEST_NAME = 40  # that a column of an estimate holds
MOST_OTHERS = 30
KEYS = ("name", "amount", "per")


def _currency(given: object) -> str:
    text = given.strip() if isinstance(given, str) else ""
    if not text or len(text) > LONGEST_CURRENCY or not text.isprintable() or any(letter.isdigit() for letter in text):
        raise ValueError(
            f'Given {shown(given)}; a currency has 1 to {LONGEST_CURRENCY} letters and no figures, like "EUR".'
        )
    return text


def _contingency(given: object) -> float:
    share = parse_share(given)
    if not 0 <= share < 1:
        raise ValueError(f'Given {shown(given)}; a contingency lies from 0 to below 100 %, like "10 %".')
    return share


def _others(given: object) -> tuple[OtherCost, ...]:
    """Read every entry; all faults of all entries in one message."""
    entries = given if isinstance(given, list) else [given]
    if len(entries) > MOST_OTHERS:
        raise ValueError(f"There are {len(entries)} other prices, more than {MOST_OTHERS}. Put some together.")
    read, faults = [], []
    for number, entry in enumerate(entries, start=1):
        found = _faults(entry)
        faults += [f"entry {number}: {fault}" for fault in found]
        if not found and isinstance(entry, Mapping):
            read.append(OtherCost(name=entry["name"].strip(), amount=parse_number(entry["amount"]), per=entry["per"]))
    if faults:
        raise ValueError(
            f"{'; '.join(faults)}. Write every other price like "
            '{name = "transport", amount = 60, per = "batch"}.'
        )  # fmt: skip
    return tuple(read)


def _faults(entry: object) -> list[str]:
    if not isinstance(entry, Mapping):
        return [f"given {shown(entry)}, which is no table"]
    faults = [f"the key {shown(key)} is not known" for key in entry if key not in KEYS]
    missing = [key for key in KEYS if key not in entry]
    if missing:
        faults.append(f"{listed(missing)} missing")
    if "name" in entry:
        faults += _name_faults(entry["name"])
    if "amount" in entry:
        faults += _amount_faults(entry["amount"])
    if "per" in entry and entry["per"] not in BASES:
        near = nearest(str(entry["per"]), BASES, cutoff=0.6)
        hint = f' (the nearest is "{near}")' if near else ""
        faults.append(f"per is {shown(entry['per'])}, allowed are {listed(BASES)}{hint}")
    return faults


def _name_faults(given: Any) -> list[str]:
    try:
        name = filled_text(given)
    except ValueError:
        return [f"the name {shown(given)} is no text"]
    if len(name) > LONGEST_NAME:
        return [f"the name {shown(given)} has more than {LONGEST_NAME} letters"]
    return []


def _amount_faults(given: Any) -> list[str]:
    try:
        amount = parse_number(given)
    except ValueError as error:
        return [f"amount: {str(error).rstrip('.')}"]
    return [] if amount >= 0 else [f"the amount {shown(given)} is negative"]


_ENTRY = {
    "type": "object",
    "required": list(KEYS),
    "additionalProperties": False,
    "properties": {"name": TEXT, "amount": at_least(0), "per": {"enum": list(BASES)}},
}
Currency = Annotated[str, BeforeValidator(_currency), WithJsonSchema(TEXT)]
Contingency = Annotated[float, BeforeValidator(_contingency), WithJsonSchema(SHARE)]
OtherCosts = Annotated[
    tuple[OtherCost, ...], BeforeValidator(_others), WithJsonSchema({"type": "array", "items": _ENTRY})
]
