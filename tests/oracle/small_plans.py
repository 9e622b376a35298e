"""Small invented plans as files on disk, and the same plans by hand: what the program reads, the oracle reads too."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path
from shutil import copyfile

import numpy as np

from tests.oracle.plain.candidates import Candidates, Limits, candidates_of
from tests.oracle.plain.maturities import Clock, Constants
from tests.oracle.plain.study import study_of
from tests.oracle.plain.tables import read_specimens, read_temperatures


@dataclass(frozen=True)
class Asked:
    """One plan; every field stands in its file."""

    limits: Limits
    targets_h: tuple[float, ...]
    curves: tuple[str, ...] = ("logarithmic", "piecewise linear in log age")
    q_k: tuple[float, ...] = (4000.0, 6000.0)
    datum_c: tuple[float, ...] = ()
    room_c: float = 20.0
    stated_cv: float | None = None
    by_mix: bool = False
    stated_spread: float | None = None  # between batches
    final_set_h: float = 0.0
    strengths_mpa: tuple[float, ...] = ()  # waited for, instead of ages

    @property
    def constants(self) -> list[Constants]:
        """Those listed, and one in the middle of every gap wider than 500 K or 2.5 C."""
        listed = [Constants(q_k=q) for q in self.q_k] + [Constants(datum_c=d) for d in self.datum_c]
        between = [Constants(q_k=middle) for middle in _middles(self.q_k, 500.0)]
        return listed + between + [Constants(datum_c=middle) for middle in _middles(self.datum_c, 2.5)]


def _middles(listed: tuple[float, ...], widest: float) -> list[float]:
    rising = np.array(sorted(listed))
    gaps = np.diff(rising)
    return (rising[:-1] + gaps / 2)[gaps > widest].tolist()


def by_hand(folder: Path, asked: Asked) -> Candidates:
    """Every choice of a plan, from its tables."""
    specimens = read_specimens(folder / "breaks.csv")
    temperatures = folder / "temperatures.csv"
    clock = Clock(read_temperatures(temperatures) if temperatures.exists() else {}, asked.room_c)
    offered = [age for age in asked.limits.ages_h if age >= asked.final_set_h]
    study = study_of(
        specimens, clock, asked.constants, list(asked.targets_h), offered, stated_cv=asked.stated_cv,
        by_mix=asked.by_mix, least_mpa=asked.limits.least_strength_mpa, strengths_mpa=list(asked.strengths_mpa),
    )  # fmt: skip
    limits = replace(asked.limits, ages_h=tuple(offered))
    return candidates_of(study, limits, asked.curves, len(asked.constants))


def write_plan(folder: Path, asked: Asked, *, more: str = "") -> Path:
    """The plan's file, beside its tables."""
    limits = asked.limits

    def ages(values) -> str:
        return "[" + ", ".join(f'"{value:g} h"' for value in values) + "]"

    stated = "" if asked.stated_cv is None else f"within_test_cv = {asked.stated_cv}\n"
    if asked.stated_spread is not None:
        stated += f"between_batch_cv = {asked.stated_spread}\n"
    temperatures = 'temperatures = "temperatures.csv"\n' if (folder / "temperatures.csv").exists() else ""
    targets = f"ages = {ages(asked.targets_h)}"
    if asked.strengths_mpa:
        targets = "strengths = [" + ", ".join(f'"{one:g} MPa"' for one in asked.strengths_mpa) + "]"
    text = f"""
title = "A small plan"
[mix]
final_set_h = {asked.final_set_h}
[prior]
breaks = "breaks.csv"
{temperatures}standard_curing_c = {asked.room_c}
hold_out = "{"mix" if asked.by_mix else "batch"}"
{stated}
[target]
{targets}
tolerance = {limits.tolerance}
assurance = "90 %"
weights = {list(limits.shares)}
combine = "{"worst" if limits.is_worst else "mean"}"
over_prediction_weight = {limits.over_weight}
[choices]
ages = {ages(limits.ages_h)}
fewest_ages = {limits.fewest_ages}
most_ages = {limits.most_ages}
specimens_per_age = [{limits.per_age[0]}, {limits.per_age[1]}]
minimum_gap = "{limits.minimum_gap_h:g} h"
least_strength_mpa = {limits.least_strength_mpa}
[budget]
specimens = {limits.specimens}
[curves]
families = {list(asked.curves)}
[maturity]
equivalent_age_q_k = {list(asked.q_k)}
reference_c = 20
datum_c = {list(asked.datum_c)}
{more}
""".replace("'", '"')
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


SCENARIOS = Path(__file__).parents[2] / "scenarios"


def from_scenario(folder: Path, *, scenario: str) -> None:
    """The tables of a demo programme as they are."""
    for name in ("breaks.csv", "temperatures.csv"):
        copyfile(SCENARIOS / scenario / name, folder / name)


AGES_H = (6.0, 12.0, 24.0, 72.0, 168.0)


def invent(
    folder: Path,
    *,
    seed: int,
    n_batches: int,
    target_h: float,
    n_each: int,
    n_mixes: int = 1,
    site: bool = True,
    missing=(),
    mix_step: float = 0.2,
    slower=None,
    site_off=None,
):
    """Write tables of batches about one law of growth, each with its own level, rate and scatter."""
    rng = np.random.default_rng(seed)
    with (folder / "breaks.csv").open("w", newline="") as breaks, (folder / "temperatures.csv").open("w") as degrees:
        rows = csv.writer(breaks)
        rows.writerow(["batch", "mix", "curing", "age_h", "strength_mpa", "placement"])
        degrees.write("batch,curing,placement,elapsed_h,temperature_c\n")
        for b in range(n_batches):
            name, mix = f"B{b + 1}", f"M{b % n_mixes + 1}"
            level = 40.0 * np.exp(0.08 * rng.standard_normal() + mix_step * (b % n_mixes))
            half = 14.0 * np.exp(0.15 * rng.standard_normal()) * (slower or {}).get(name, 1.0)
            room = 20.0 + rng.normal(0, 0.5)
            for hour in (0.0, 2.0, 5.0, 30.0, 100.0):
                degrees.write(f"{name},standard,,{hour},{room + 6 * np.exp(-hour / 8):.2f}\n")
            broken = [age for age in AGES_H if (name, age) not in missing]
            _rows(rows, rng, name, mix, "standard", "", broken, level, half, 1.0, n_each)
            if not site:
                continue
            for place, outside in (("cool", 11.0), ("warm", 27.0))[: 1 + b % 2]:
                for hour in (0.0, 1.0, 4.0, 9.0, 40.0, 200.0):
                    degrees.write(f"{name},site,{place},{hour},{outside + 9 * np.exp(-hour / 10):.2f}\n")
                speed = np.exp(5000 * (1 / 293.15 - 1 / (outside + 276.15)))
                off = (site_off or {}).get(name, 1.0)
                _rows(rows, rng, name, mix, "site", place, (target_h, 72.0), off * level, half, speed, 2 + b % 2)


def _rows(rows, rng, name, mix, curing, place, ages, level, half, speed, n_each):
    for age in ages:
        since = age * speed - 2.0
        for _ in range(n_each):
            strength = level * since / (since + half) * (1 + (0.05 if age < 24 else 0.025) * rng.standard_normal())
            rows.writerow([name, mix, curing, age, f"{strength:.2f}", place])
