"""Pairs and records of several geometries, invented by hand or by a seed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.conversion import Pairs
from planner.terms.records import Break

CUBE, CYLINDER = "cube 100 mm", "cylinder 150x300 mm"


def pairs(
    x: Sequence[float],
    y: Sequence[float],
    *,
    sd_x: Sequence[float],
    sd_y: Sequence[float],
    batch: str,
) -> Pairs:
    """One letter of `batch` for each pair."""
    n = len(x)
    return Pairs(
        batch=tuple(batch), curing=("standard",) * n, age_h=np.full(n, 24.0), from_mpa=np.array(x, dtype=float),
        to_mpa=np.array(y, dtype=float), from_sd_mpa=np.array(sd_x, dtype=float), to_sd_mpa=np.array(sd_y, dtype=float),
    )  # fmt: skip


def drawn(
    seed: int,
    *,
    n_batches: int,
    levels: Sequence[float],
    factor: float,
    exponent: float = 1.0,
    between: float,
    cv: float,
) -> Pairs:
    """Batches at the same levels, each with its own departure; both means scatter by `cv`."""
    rng = np.random.default_rng(seed)
    true = np.tile(np.array(levels, dtype=float), n_batches)
    cluster = np.repeat(np.arange(n_batches), len(levels))
    departure = np.exp(between * rng.standard_normal(n_batches))[cluster]
    x = true * (1.0 + cv * rng.standard_normal(len(true)))
    to = factor * true**exponent * departure
    y = to * (1.0 + cv * rng.standard_normal(len(true)))
    ages = np.tile(8.0 * 1.5 ** np.arange(len(levels)), n_batches)
    return Pairs(
        batch=tuple(f"B{b}" for b in cluster), curing=("standard",) * len(x), age_h=ages, from_mpa=x, to_mpa=y,
        from_sd_mpa=cv * x, to_sd_mpa=cv * y,
    )  # fmt: skip


def broken(batch: str, geometry: str, age_h: float, *strengths: float, curing: str = "standard") -> list[Break]:
    """Specimens of one group."""
    return [
        Break(batch=batch, mix="m", curing=curing, age_h=age_h, tested_h=age_h, strength_mpa=mpa, geometry=geometry)  # type: ignore[arg-type]
        for mpa in strengths
    ]
