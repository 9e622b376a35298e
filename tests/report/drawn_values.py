"""Values read back from a drawn picture, by the names and grid lines that a reader has: no code of the drawing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np

Grid = tuple[tuple[float, str], ...]  # place in px, name beside it

NAME = "{http://www.w3.org/2000/svg}"


def number(text: str) -> float:
    """A number with or without a per cent sign."""
    found = re.search(r"[+\u2212-]?[\d.]+", text)
    assert found is not None, text
    value = float(found[0].replace("\u2212", "-"))
    return value / 100.0 if "%" in text else value


@dataclass(frozen=True)
class Drawn:
    """A picture with straight axes."""

    elements: tuple[ElementTree.Element, ...]
    across: Grid
    up: Grid

    @classmethod
    def of(cls, svg: str) -> Drawn:
        elements = tuple(ElementTree.fromstring(svg))
        across, up = [], []
        for grid, tick in pairwise(elements):
            if grid.get("class") != "grid":
                continue
            x, y, way = re.fullmatch(r"M([\d.]+) ([\d.]+)([VH]).*", grid.attrib["d"]).groups()  # type: ignore[union-attr]
            (across if way == "V" else up).append((float(x if way == "V" else y), tick.text or ""))
        return cls(elements, tuple(across), tuple(up))

    def points(self, kind: str) -> list[list[tuple[float, float]]]:
        """Corners in px of every path whose classes hold all these words; keys in the margin left out."""
        wanted = set(kind.split())
        paths = [
            element.attrib["d"]
            for element in self.elements
            if element.tag == f"{NAME}path" and wanted <= set(element.get("class", "").split())
        ]
        pairs = [re.findall(r"[ML]([\d.]+) ([\d.]+)", path) for path in paths]
        return [[(float(x), float(y)) for x, y in path] for path in pairs if len(path) > 1]

    def notes(self) -> list[str]:
        return [element.text or "" for element in self.elements if element.get("class") == "note"]

    def bars(self) -> dict[str, tuple[float, str]]:
        """Reach of the bar that stands at each name on the left, and what is written behind it."""
        found = {}
        for path, note in zip(self.points("area"), self.notes(), strict=False):
            top, foot = min(y for _, y in path), max(y for _, y in path)
            (name,) = [name for at, name in self.up if top < at < foot]
            found[name] = (value_at(max(x for x, _ in path), self.across), note)
        return found


def value_at(place: float, grid: Grid) -> float:
    """What stands at a place in px, by the grid lines with numbers."""
    slope, start = np.polyfit([at for at, _ in grid], [number(name) for _, name in grid], 1)
    return float(slope * place + start)
