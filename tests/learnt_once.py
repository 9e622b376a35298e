"""A population is learnt once from the same breaks, whatever the questions and units it is asked in.

Learning takes a second or two and is the same to the last bit each time: its chains are seeded. For tests that ask
several questions of one plan and are not about the learning itself, which tests/population is about.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from planner.population import population_model
from planner.population.population_model import Population

_LEARN = population_model.population_from
_LEARNT: dict[bytes, Population] = {}


@contextmanager
def populations_learnt_once() -> Iterator[None]:
    """Inside, what was learnt from equal breaks under equal settings in this process is taken again."""

    def learn(breaks: Any, settings: Any, *, seed: int = 1, notes: tuple[str, ...] = ()) -> Population:
        key = pickle.dumps((breaks, settings.final_set_h, settings.maturity, seed, notes))
        if key not in _LEARNT:
            _LEARNT[key] = _LEARN(breaks, settings, seed=seed, notes=notes)
        return _LEARNT[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(population_model, "population_from", learn)
        yield
