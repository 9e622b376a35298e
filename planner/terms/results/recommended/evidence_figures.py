"""On what an answer rests, where it may be used, and what was searched."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.results.drawn_figures import Gain

CheckedAgainst = Literal["site-cured", "standard-cured", "mixed", "drawn"]


EvidenceGrade = Literal["measured", "population", "published"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """On what the answer rests."""

    grade: EvidenceGrade
    n_batches: int
    n_mixes: int
    n_breaks: int
    checked_against: CheckedAgainst
    checked_by_batch: tuple[tuple[str, str], ...]  # (batch, what it was checked against)
    scatter_by_age: tuple[tuple[float, float], ...]  # (age [h], within-test CV used)
    notes: tuple[str, ...]
    first_line: str = ""  # what must be said before anything else; "" where the breaks themselves judge
    more: tuple[Gain, ...] = ()  # what one more batch of breaks would do, the most useful first
    more_sentence: str = ""  # the same in words


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidFor:
    """Where the answer may be used."""

    mix: str
    geometry: str
    property: str
    concrete_temperature_c: tuple[float, float] | None
    maturity_span_h: tuple[float, float]  # hours at the reference temperature, youngest to oldest break
    recalibrate_when: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchFacts:
    """What was searched, and how."""

    n_choices: int
    n_joint_choices: int
    n_fits: int
    n_at_bound: int
    n_unconverged: int
    n_second_looks: int
    n_draws: int
    seed: int
    seconds: float
