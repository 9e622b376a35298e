"""What the slow twin makes of many seeded programmes, kept in a table: ``python -m tests.fitting.kept_twin_fits``.

The twin takes half a minute for them and changes with itself and the curves alone, the kernels that are held against
it in milliseconds. Write the table anew after an edit of the twin, of a curve's formula or bounds, or of `programmes`;
the tests fit some of its rows again.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName
from tests.fitting.one_fit import programmes
from tests.fitting.twin import fit_twin

TABLE = Path(__file__).with_name("twin_fits.csv")
N_PROGRAMMES, SEED = 160, 402
CURVES_KEPT: tuple[CurveName, ...] = ("hyperbolic", "exponential")
HEADINGS = ("curve", "weighting", "programme", "read_h", "read_mpa", "residual_ss")


@dataclass(frozen=True, slots=True)
class KeptFit:
    """One programme with what the twin reads off its fit."""

    maturity_h: FloatArray
    mean_mpa: FloatArray
    read_h: float
    read_mpa: float
    residual_ss: float  # weighted sum of squared residuals


def fitted(curve: CurveName, maturity_h: FloatArray, mean_mpa: FloatArray, *, is_relative: bool) -> KeptFit:
    """Fit by the twin and read midway between the first and the last age."""
    twin = fit_twin(curve, maturity_h, mean_mpa, weighting="relative" if is_relative else "absolute")
    read_h = float(np.sqrt(maturity_h[0] * maturity_h[-1]))
    return KeptFit(maturity_h, mean_mpa, read_h, float(twin.predict([read_h])[0]), float(twin.residual_ss))


def kept_fits(curve: CurveName, *, is_relative: bool) -> list[KeptFit]:
    """Read the fits of one curve and weighting, in the order of the programmes."""
    weighting = "relative" if is_relative else "absolute"
    with TABLE.open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if (row["curve"], row["weighting"]) == (curve, weighting)]
    return [
        KeptFit(maturity_h, mean_mpa, float(row["read_h"]), float(row["read_mpa"]), float(row["residual_ss"]))
        for row, (maturity_h, mean_mpa) in zip(rows, programmes(N_PROGRAMMES, seed=SEED), strict=True)
    ]


def main() -> None:
    """Fit all of them and write the table."""
    with TABLE.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(HEADINGS)
        for curve in CURVES_KEPT:
            for weighting in ("absolute", "relative"):
                for place, programme in enumerate(programmes(N_PROGRAMMES, seed=SEED)):
                    found = fitted(curve, *programme, is_relative=weighting == "relative")
                    figures = (found.read_h, found.read_mpa, found.residual_ss)
                    writer.writerow((curve, weighting, place, *map(repr, figures)))


if __name__ == "__main__":
    main()
