"""What the curves with a prior have learnt from all earlier batches of a plan, for a curve that is issued or drawn."""

from __future__ import annotations

from dataclasses import dataclass

from planner.maturity.inside_records import is_comparable
from planner.population import basis_of
from planner.resampling.priors.one_fit import Numbers, learnt_numbers
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class LearntCurves:
    """Numbers of every curve with a prior, and where they hold."""

    numbers: dict[CurveName, Numbers]  # without those that too few batches are for
    span_h: tuple[float, float]  # least and most maturity of the earlier batches' breaks [h at the reference]

    def holds(self, maturity_h: float) -> bool:
        """Whether a break at this maturity can be fitted: the earlier batches were broken about it."""
        return is_comparable(maturity_h, self.span_h)


def learnt_from_records(plan: Plan, maturity: MaturitySetting) -> LearntCurves | None:
    """None where the plan names no curve with a prior, or its batches are drawn.

    Parameters
    ----------
    maturity
        The recommended constants, one of those of the plan.
    """
    wanted = [name for name in plan.settings.curves if name in PRIOR_CURVE_NAMES]
    if not wanted:
        return None
    basis = basis_of(plan)
    if basis.is_drawn:
        return None
    setting, whole = basis.cells.settings.index(maturity), basis.cells.views.whole
    found = {name: learnt_numbers(basis.cells, name, setting) for name in wanted}
    held = whole.maturity_h[setting][whole.n_specimens > 0]
    return LearntCurves(
        numbers={name: numbers for name, numbers in found.items() if numbers is not None},
        span_h=(float(held.min()), float(held.max())),
    )
