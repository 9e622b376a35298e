"""The words that laboratories use for the curing of a specimen."""

from __future__ import annotations

from planner.read.parsing.findings import shown
from planner.read.parsing.nearest_name import nearest
from planner.terms.records import CURINGS, Curing

SYNONYMS: dict[str, Curing] = {
    "lab": "standard",
    "laboratory": "standard",
    "water": "standard",
    "field": "site",
}
KNOWN: dict[str, Curing] = {**{word: word for word in CURINGS}, **SYNONYMS}


def read_curing(word: str) -> Curing:
    """Read a curing word.

    Raises
    ------
    ValueError
        If it is not known; the text names the known ones.
    """
    key = word.strip().lower()
    for ending in ("-cured", " cured", " curing", "_cured"):
        key = key.removesuffix(ending)
    if key in KNOWN:
        return KNOWN[key]
    known = ", ".join(CURINGS)
    near = nearest(key, KNOWN, cutoff=0.7)
    guess = f' Perhaps "{near}" is meant.' if near else ""
    if not key:
        raise ValueError(f"The cell is empty. Give one of {known}.")
    raise ValueError(f"The curing {shown(word)} is not known. Allowed are {known} (also lab, water, field).{guess}")
