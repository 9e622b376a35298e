"""Which curves of the plan the records can serve: those with a prior must have other batches to learn from."""

from __future__ import annotations

from planner.population import Basis
from planner.resampling import Joint, joints_of
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName
from planner.terms.problems import InputError, Problem

FEWEST_UNITS: dict[CurveName, int] = {"population prior": 3, "shape prior": 4}  # one judged, the others learnt from


def why_not_learnt(basis: Basis) -> dict[CurveName, str]:
    """Curves with a prior that cannot be offered, and why, as the end of a sentence."""
    cells = basis.cells
    if basis.is_drawn:
        return dict.fromkeys(
            PRIOR_CURVE_NAMES, "choices are judged on drawn batches, and a prior learns from measured ones"
        )
    n_units, unit = cells.n_units, "mixes" if cells.is_by_mix else "batches"
    found: dict[CurveName, str] = {
        curve: f"it needs {fewest} {unit}, one judged and the others to learn from, and there are {n_units}"
        for curve, fewest in FEWEST_UNITS.items()
        if n_units < fewest
    }
    if cells.is_by_mix or len(set(cells.views.mix)) > 1:
        found["population prior"] = "the records hold several mixes, whose strengths have no mean curve in common"
    return found


def offered_joints(curves: tuple[CurveName, ...], basis: Basis, *, plan_name: str) -> tuple[Joint, ...]:
    """Every curve that can be offered with its weightings and maturity settings.

    Raises
    ------
    InputError
        Where none of the plan's curves can be.
    """
    left_out = why_not_learnt(basis)
    kept = tuple(curve for curve in curves if curve not in left_out)
    if not kept:
        reasons = "; ".join(f"{curve}: {left_out[curve]}" for curve in curves)
        raise InputError(
            [
                Problem(
                    plan_name,
                    f"No curve is left to choose among ({reasons}). Add a curve that is fitted to one batch alone, or "
                    "leave out [curves].",
                    column="curves.families",
                )
            ]
        )
    return joints_of(kept, basis.cells.settings)
