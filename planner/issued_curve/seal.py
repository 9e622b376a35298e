"""What ``curve.json`` is known by: its schema, and a seal by which a figure changed by hand is noticed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

SCHEMA = "test-age-planner/curve/1"
SEAL = "seal"


def seal_of(document: Mapping[str, Any]) -> str:
    """Digest of a document of plain values, its own seal left out; layout and order of keys do not count."""
    content = {name: value for name, value in document.items() if name != SEAL}
    written = json.dumps(content, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return f"sha256:{hashlib.sha256(written.encode()).hexdigest()}"


def sealed(document: Mapping[str, Any]) -> dict[str, Any]:
    """The document with its seal."""
    return {**document, SEAL: seal_of(document)}
