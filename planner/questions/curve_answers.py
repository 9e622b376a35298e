"""Answers after casting for notebooks: the curve and its checks as tables of pandas, and their pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.questions.answer import Answer

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure
    from numpy.typing import ArrayLike

    # Types alone: these load compiled loops, which a refused file must not wait for.
    from planner.issued_curve.calibration.issue import Issue  # noqa: F401 named in quotes
    from planner.issued_curve.calibration.issued import IssuedCurve
    from planner.issued_curve.site_answer import SiteAnswer  # noqa: F401 named in quotes
    from planner.report.figures.drawing.plot import Plot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CurveAnswer(Answer["Issue"]):
    """An issued curve. Strengths in MPa, maturity in the unit that ``document["maturity_unit"]`` names."""

    @property
    def curve(self) -> IssuedCurve:
        """The curve itself; beyond the maturities of its breaks it reads on, see ``holds_at(maturity_h)``."""
        return self.result.curve

    def read(self, maturity: ArrayLike) -> pd.DataFrame:
        """Read the curve at maturities in its own unit, ``(n,)``; where it does not hold nothing is read (NaN)."""
        from planner.issued_curve.calibration.maturity_unit import maturity_unit

        _, per_hour = maturity_unit(self.curve.maturity)
        rows = []
        for value in np.atleast_1d(np.asarray(maturity, dtype=np.float64)).tolist():
            at_h = value / per_hour
            holds = self.curve.holds_at(at_h)
            rows.append(
                {
                    "maturity": value,
                    "strength_mpa": self.curve.read(at_h) if holds else np.nan,
                    "safe_mpa": np.nan if (safe := self.curve.safe(at_h)) is None else safe,
                    "is_inside": holds,
                }
            )
        return _frame(rows, ("maturity", "strength_mpa", "safe_mpa", "is_inside"))

    @property
    def table(self) -> pd.DataFrame:
        """The table of the sheet: maturity, strength read, safe reading."""
        return _frame(self.document["table"], ("maturity", "strength_mpa", "safe_mpa"))

    @property
    def readings(self) -> pd.DataFrame:
        """The curve at every target age, standard-cured."""
        return _frame(self.document["readings"], ("age_h", "maturity", "strength_mpa", "safe_mpa"))

    @property
    def checks(self) -> pd.DataFrame:
        """Site-cured companions beside the reading at their own maturity; none where nothing was judged."""
        return _frame(self.document["checks"], ("batch", "age_h", "placement", "maturity", "read_mpa", "broken_mpa"))

    def plot(self) -> Figure:
        """Draw the picture of the sheet with matplotlib.

        Raises
        ------
        InputError
            Where matplotlib is not installed.
        """
        from planner.report.figures.after_casting.issued_curve import curve_plot

        return _drawn(curve_plot(self.result))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class SiteChecksAnswer(Answer["SiteAnswer"]):
    """The site checks of an issued curve, judged."""

    @property
    def checks(self) -> pd.DataFrame:
        """Every check in order of casting, with both rules."""
        return _frame(self.document["points"], ("batch", "age_h", "read_mpa", "broken_mpa", "z"))

    def plot(self) -> Figure:
        """Draw z in order with its limits; arguments and errors as for a curve."""
        from planner.report.figures.after_casting.site_check_chart import checks_plot

        return _drawn(checks_plot(self.result))


def _frame(rows: Sequence[Any], first: tuple[str, ...]) -> pd.DataFrame:
    """Rows of a document; the columns named stand there even without rows."""
    import pandas as pd

    return pd.DataFrame(list(rows)) if rows else pd.DataFrame(columns=list(first))


def _drawn(plot: Plot) -> Figure:
    from planner.report.text.needed_library import OF_FIGURES

    OF_FIGURES.check()
    from planner.report.figures.drawing.image_drawing import figure_of

    return figure_of(plot)
