"""The correction table of the sheet: what early means of a pour make of the strength read, without a program.

The log reading of the mixed model is linear in the logarithms of the early means. So at each target the pour's reading
is the strength read times a factor for each early mean, and the factors of several early means multiply. The safe
reading is that product over a divisor that the means do not change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.pour_reader import PourReader
from planner.mixed_model import CellMeans, judge_stranger
from planner.terms.arrays import FloatArray

SHARES: Final = (0.80, 0.85, 0.90, 0.95, 1.00, 1.05, 1.10, 1.20)  # early mean over expected, one line each
MOST_EARLY_AGES: Final = 2  # that fit the sheet
FEWEST_LINES: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlyMean:
    """One planned early break."""

    age_h: float
    n_specimens: int
    expected_mpa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedTarget:
    """One target: what its reading is multiplied by."""

    age_h: float
    maturity_h: float  # standard-cured [h at the reference temperature]; factors hold about it
    safe_divisor: float  # of the corrected strength, 1 or more
    factors: tuple[tuple[float, ...], ...]  # for each share a factor for each early mean before the target


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlyCorrection:
    """The table: a line for each share of the expected early mean."""

    early: tuple[EarlyMean, ...]  # youngest first
    shares: tuple[float, ...]  # rising; means beyond them are not read with the sheet
    targets: tuple[CorrectedTarget, ...]  # those with an early mean before them


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedEarly:
    """One planned early break, standard-cured."""

    age_h: float
    n_specimens: int
    maturity_h: float  # that specimens of this age usually have [h at the reference temperature]


def early_correction(curve: IssuedCurve, planned: Sequence[PlannedEarly]) -> EarlyCorrection | None:
    """Work the table out for planned early breaks.

    Parameters
    ----------
    planned
        Youngest first.

    Returns
    -------
    None where nothing is planned, where the curve holds nothing to read pours by or no safe readings, where it is the
    rescaled curve that reads them, or where the table does not fit a sheet: then the laboratory reads each pour.
    """
    model = curve.pour_model
    if (
        model is None
        or model.reading == "rescaled"
        or not curve.is_calibrated
        or not 0 < len(planned) <= MOST_EARLY_AGES
    ):
        return None
    reader = PourReader.of(model)
    ages_h = [item.age_h for item in planned]
    maturities = np.array([item.maturity_h for item in planned])
    expected = np.array([reader.expected_mpa(float(maturity)) for maturity in maturities])
    counts = np.array([float(item.n_specimens) for item in planned])
    shares = tuple(
        share
        for share in SHARES
        if not any(_is_strange(reader, cell, share) for cell in zip(maturities, expected, counts, strict=True))
    )
    targets = [
        _target(curve, reader, age, [place for place, early in enumerate(ages_h) if early < age], shares, cells)
        for age in curve.target_ages_h
        for cells in [(maturities, expected, counts)]
        if any(early < age for early in ages_h) and _is_read(curve, reader, curve.maturity_of_age(age))
    ]
    if not targets or len(shares) < FEWEST_LINES or not all(reader.holds(maturity) for maturity in maturities):
        return None
    return EarlyCorrection(
        early=tuple(
            EarlyMean(age_h=item.age_h, n_specimens=item.n_specimens, expected_mpa=float(mean))
            for item, mean in zip(planned, expected, strict=True)
        ),
        shares=shares,
        targets=tuple(targets),
    )


def _is_read(curve: IssuedCurve, reader: PourReader, maturity_h: float) -> bool:
    return curve.holds_at(maturity_h) and reader.holds(maturity_h)


def _is_strange(reader: PourReader, cell: tuple[float, float, float], share: float) -> bool:
    """Whether one early mean alone is that of no batch like the earlier ones; unknown from few of them is no."""
    maturity, expected, count = cell
    means = CellMeans(
        maturity_h=np.array([maturity]), mean_mpa=np.array([share * expected]), n_specimens=np.array([count])
    )
    return judge_stranger(reader.prior, reader.about, means).is_stranger is True


def _target(
    curve: IssuedCurve,
    reader: PourReader,
    age_h: float,
    before: list[int],
    shares: tuple[float, ...],
    cells: tuple[FloatArray, FloatArray, FloatArray],
) -> CorrectedTarget:
    """Factors at one target; what the expected means themselves make of the curve goes into the first."""
    maturities, expected, counts = (values[before] for values in cells)
    maturity_h = curve.maturity_of_age(age_h)

    def read_at(share: FloatArray) -> float:
        early = CellMeans(maturity_h=maturities, mean_mpa=share * expected, n_specimens=counts)
        return float(reader.read(early, maturity_h).strength_mpa[0])

    as_expected = np.ones(len(before))
    middle = read_at(as_expected)
    factors = []
    for share in shares:
        line = []
        for place in range(len(before)):
            only = as_expected.copy()
            only[place] = share
            line.append(read_at(only) / middle)
        line[0] *= middle / curve.read(maturity_h)
        factors.append(tuple(line))
    reading = reader.read(CellMeans(maturity_h=maturities, mean_mpa=expected, n_specimens=counts), maturity_h)
    safe = float(reading.safe_mpa(curve.promise.assurance)[0])
    return CorrectedTarget(age_h=age_h, maturity_h=maturity_h, safe_divisor=middle / safe, factors=tuple(factors))
