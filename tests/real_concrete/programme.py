"""The public command on a set of growth records: files in, JSON out."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.real_concrete.data import CURING_C, GrowthRecord, MixSet

N_DRAWS = 200  # behind the resampled figures; the recommendation is free of draws
TOLERANCE_PERCENT = 10.0

_PLAN = """
title = "Published mixes"
[prior]
breaks = "breaks.csv"
standard_curing_c = {curing_c:g}
within_test_cv = "{cv:g} %"
hold_out = "mix"
[target]
ages = ["{target:.9g} h"]
tolerance = "{tolerance:g} %"
[choices]
ages = [{candidates}]
fewest_ages = 2
most_ages = {n_candidates}
specimens_per_age = [{n_specimens}, {n_specimens}]
[budget]
specimens = {budget}
[compare]
schedules = [{compared}]
"""


@dataclass(frozen=True, slots=True)
class Chosen:
    """A schedule with its curve and weighting: all that is needed to calibrate another mix."""

    ages_h: tuple[float, ...]
    curve: str
    weighting: str

    @classmethod
    def of(cls, choice: dict[str, Any]) -> Chosen:
        """Read it from a choice of the document."""
        return cls(tuple(choice["ages_h"]), choice["curve"], choice["weighting"])


@dataclass(frozen=True, slots=True)
class Advice:
    """What the command said, as far as it is judged here."""

    recommended: Chosen
    best: Chosen
    compared: tuple[Chosen, ...]  # named schedules, each with the curve that served it best in training
    nested_rms: float
    nested_rms_measured: float
    nested_p80_abs: float
    quantile_upper_95: float | None  # of eight in ten mixes; None: too few were told
    folds: tuple[tuple[str, Chosen, float], ...]  # (mix left out, what was chosen without it, its error)


def candidates_h(mixes: MixSet, target_h: float) -> tuple[float, ...]:
    """Every age of the set but the target: its one specimen is the truth and cannot be fitted as well."""
    return tuple(age for age in mixes.ages_h if age != target_h)


def write_programme(
    folder: Path, mixes: MixSet, records: Iterable[GrowthRecord], target_h: float, compared: Sequence[Sequence[float]]
) -> Path:
    """Write breaks and plan into a folder; every mix is one batch. As many specimens an age as in the records."""
    rows = [
        f"{record.name},{record.name},standard,{age_h:.9g},{strength_mpa:.9g}"
        for record in records
        for age_h, strength_mpa in zip(record.ages_h, record.strengths_mpa, strict=True)
    ]
    (folder / "breaks.csv").write_text("\n".join(["batch,mix,curing,age_h,strength_mpa", *rows]) + "\n")
    candidates = candidates_h(mixes, target_h)
    plan = folder / "plan.toml"
    plan.write_text(
        _PLAN.format(
            curing_c=CURING_C,
            cv=100 * mixes.within_test_cv,
            target=target_h,
            tolerance=TOLERANCE_PERCENT,
            candidates=", ".join(f'"{age:.9g} h"' for age in candidates),
            n_candidates=len(candidates),
            n_specimens=mixes.n_specimens,
            budget=mixes.n_specimens * len(candidates),
            compared=", ".join(
                '"' + ", ".join(f"{age:.9g} h x{mixes.n_specimens}" for age in schedule) + '"' for schedule in compared
            ),
        )
    )
    return plan


def run_command(plan: Path, *options: str) -> dict[str, Any]:
    """Run ``test-ages recommend PLAN --json`` in this process and read its document.

    Raises
    ------
    RuntimeError
        Where the command does not end with 0; the text is what it said.
    """
    from planner.cli.main import main

    out, err = io.StringIO(), io.StringIO()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main(["recommend", str(plan), "--json", "--workers", "1", "--draws", str(N_DRAWS), *options])
    except SystemExit as left:
        if left.code != 0:
            raise RuntimeError(f"The command ended with {left.code}: {err.getvalue()}") from left
    document: dict[str, Any] = json.loads(out.getvalue())
    return document


def advice_of(document: dict[str, Any]) -> Advice:
    """Read what is judged here from the document of the command."""
    honest = document["honest"]
    own = honest["own_batch"]
    return Advice(
        recommended=Chosen.of(document["recommended"]),
        best=Chosen.of(document["best"]),
        compared=tuple(Chosen.of(choice) for choice in document["compared"]),
        nested_rms=own["nested_rms"],
        nested_rms_measured=own["rms_measured"],
        nested_p80_abs=own["nested_p80_abs"],
        quantile_upper_95=honest["mixes"]["quantile_upper_95"],
        folds=tuple((fold["held_out"], Chosen.of(fold), fold["error"]) for fold in honest["folds"]),
    )
