"""A type for figures that say how many batches will keep something: taken out where nothing may be promised."""

from __future__ import annotations

from typing import Annotated, TypeAlias

from planner.terms.arrays import FloatArray

PROMISED = "says how many batches keep something"

Promise: TypeAlias = Annotated[float, PROMISED]
PromiseArray: TypeAlias = Annotated[FloatArray, PROMISED]
