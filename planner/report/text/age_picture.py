"""Ages on a logarithmic line, drawn with characters."""

from __future__ import annotations

import math
from collections.abc import Callable

from planner.report.text.blocks import AgePicture
from planner.terms.labels import age_label

LABEL_WIDTH = 14
WIDEST = 110  # wider lines help nobody
UNICODE_LINE, UNICODE_TICK = "─", "┴"
ASCII_LINE, ASCII_TICK = "-", "+"


def draw_ages(picture: AgePicture, *, width: int, is_ascii: bool) -> tuple[str, ...]:
    """Draw the picture as lines of text no wider than `width`; marks that would collide shift right."""
    ages_h = [age for line in picture.lines for age, _ in line.marks] + list(picture.ticks_h)
    if not ages_h:
        return ()
    span = max(20, min(width, WIDEST) - LABEL_WIDTH - 6)
    place = _placing(ages_h, span=span)
    rule, tick = (ASCII_LINE, ASCII_TICK) if is_ascii else (UNICODE_LINE, UNICODE_TICK)
    ticks = tuple((age, tick) for age in picture.ticks_h)
    drawn = [
        f"{line.label[: LABEL_WIDTH - 1]:<{LABEL_WIDTH}}"
        + _row(line.marks, place=place, span=span, rule=rule if line.is_ruled else " ")
        for line in picture.lines
    ]
    drawn.append(" " * LABEL_WIDTH + _row(ticks, place=place, span=span, rule=rule, is_shifting=False))
    drawn.append(" " * LABEL_WIDTH + _tick_labels(picture.ticks_h, place=place))
    return tuple(text.rstrip() for text in drawn)


def _placing(ages_h: list[float], *, span: int) -> Callable[[float], int]:
    low, high = math.log(min(ages_h)), math.log(max(ages_h))
    scale = (span - 1) / (high - low) if high > low else 0.0
    return lambda age_h: round((math.log(age_h) - low) * scale)


def _row(
    marks: tuple[tuple[float, str], ...],
    *,
    place: Callable[[float], int],
    span: int,
    rule: str,
    is_shifting: bool = True,
) -> str:
    characters = [rule] * span
    taken = -1
    for age_h, mark in sorted(marks):
        spot = max(place(age_h), taken + 1) if is_shifting else place(age_h)
        if spot >= len(characters):
            characters.append(rule)
        characters[spot] = mark
        taken = spot
    return "".join(characters)


def _tick_labels(ticks_h: tuple[float, ...], *, place: Callable[[float], int]) -> str:
    """Names below the ticks, each left-aligned at its tick; one that would touch another is left out."""
    text = ""
    for age_h in sorted(ticks_h):
        spot = place(age_h)
        if spot == 0 or spot >= len(text) + 1:
            text = text.ljust(spot) + age_label(age_h)
    return text
