"""The correction table of the sheet in words: headings, lines, and how a crew uses them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.issued_curve.calibration.early_correction import CorrectedTarget, EarlyCorrection
from planner.report.text import words
from planner.report.text.curve_words import maturity_words
from planner.terms.labels import age_label
from planner.terms.maturity import MaturitySetting
from planner.terms.results.after_casting.curve_conversion import CurveConversion

BY_THE_LABORATORY = (
    "They are planned for every pour: the laboratory reads each pour from its own early breaks, which this table does "
    "not know."
)
NOT_BY_THIS_CURVE = (
    "They are planned for every pour, but no pour is read by them with this curve: its trial batch is unlike the "
    "earlier ones or not accepted, or site checks scaled it. Ask the laboratory."
)


@dataclass(frozen=True, slots=True)
class CorrectionTable:
    """What the sheet prints."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    how: str


def correction_table(
    correction: EarlyCorrection, setting: MaturitySetting, conversion: CurveConversion | None = None
) -> CorrectionTable:
    """Lines of early means, rounded to the safe side: means up, factors down, divisors up.

    Parameters
    ----------
    conversion
        Of the specimens that a pour breaks to what the curve reads: the means stand as they are broken.
    """
    headings, columns = ["share of expected"], [[f"{share:.2f}" for share in correction.shares]]
    for place, early in enumerate(correction.early):
        means = [share * early.expected_mpa for share in correction.shares]
        headings.append(f"mean at {age_label(early.age_h)}, MPa")
        columns.append([_up(mean if conversion is None else conversion.back(mean), 1) for mean in means])
        for target in correction.targets:
            if place < len(target.factors[0]):
                headings.append(f"factor for {age_label(target.age_h)}")
                columns.append([_down(line[place], 3) for line in target.factors])
    return CorrectionTable(
        headings=tuple(headings), rows=tuple(zip(*columns, strict=True)), how=_how(correction, setting, conversion)
    )


def _how(correction: EarlyCorrection, setting: MaturitySetting, conversion: CurveConversion | None) -> str:
    broken = " and ".join(
        f"{early.n_specimens} standard-cured at {age_label(early.age_h)}" for early in correction.early
    )
    of = "" if conversion is None else f" ({conversion.from_geometry}, means as broken)"
    several = any(len(target.factors[0]) > 1 for target in correction.targets)
    together = ", the factors of both ages multiplied" if several else ""
    divided = ", ".join(_divided(target, setting) for target in correction.targets)
    return (
        f"Every pour breaks {broken}{of}. Take the line whose mean is at or just below the one broken. Strength = "
        f"strength read x factor{together}. The safe reading is then not that of the front but this strength "
        f"divided by {divided}; elsewhere the laboratory reads the pour. A mean below the first line or above the "
        "last: no reading; call the laboratory."
    )


def _divided(target: CorrectedTarget, setting: MaturitySetting) -> str:
    return f"{words.factor(target.safe_divisor)} near {maturity_words(target.maturity_h, setting)}"


def _up(value: float, digits: int) -> str:
    return f"{math.ceil(value * 10**digits - 1e-9) / 10**digits:.{digits}f}"


def _down(value: float, digits: int) -> str:
    return f"{math.floor(value * 10**digits + 1e-9) / 10**digits:.{digits}f}"
