"""A picture as plain values, before anybody chooses ink. Coordinates are data, sizes are pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Tone = Literal["main", "second", "third", "quiet", "strong"]
Shape = Literal["dot", "square", "triangle", "diamond", "ring", "tick"]
Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One direction of a picture."""

    title: str
    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]
    is_log: bool = False
    has_grid: bool = True

    def __post_init__(self) -> None:
        if not self.low < self.high:
            raise ValueError(f"An axis needs its low end below its high end, given {self.low} and {self.high}.")
        if self.is_log and self.low <= 0:
            raise ValueError(f"A logarithmic axis lies above 0, given {self.low}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Points joined in order."""

    points: tuple[Point, ...]
    tone: Tone = "main"
    is_dashed: bool = False
    label: str = ""  # in the key; "" keeps it out


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Points, each with its own size."""

    points: tuple[Point, ...]
    radius_px: tuple[float, ...]
    shape: Shape = "dot"
    tone: Tone = "main"
    hints: tuple[str, ...] = ()  # one per point, shown when pointed at
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A filled polygon."""

    points: tuple[Point, ...]
    tone: Tone = "quiet"
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Words at a place."""

    at: Point
    text: str
    anchor: Literal["start", "middle", "end"] = "start"
    is_strong: bool = False
    shift_px: Point = (0.0, 0.0)  # right and up


Layer: TypeAlias = Line | Marks | Area | Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """One picture."""

    name: str  # of its file and its element
    title: str
    description: str  # what a reader learns from it who cannot see it
    caption: str = ""  # how to read it
    across: Axis
    up: Axis
    layers: tuple[Layer, ...]
    height_px: float = 320.0
    left_px: float = 64.0  # room for the names on the upright axis
    right_px: float = 24.0  # room for notes at the row ends
