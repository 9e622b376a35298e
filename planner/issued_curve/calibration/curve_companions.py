"""Site-cured companions beside what a curve reads at their maturity."""

from __future__ import annotations

from planner.issued_curve.calibration.batch_means import Group
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.companions import Companions


def companions_of(curve: IssuedCurve, group: Group, *, is_inside: bool) -> Companions:
    """A group of site-cured specimens beside the reading at their own maturity.

    Parameters
    ----------
    is_inside
        Whether the curve may be held against them there.
    """
    return Companions(
        batch=group.batch,
        age_h=group.age_h,
        maturity_h=group.maturity_h,
        read_mpa=curve.read(group.maturity_h),
        broken_mpa=group.mean_mpa,
        n_specimens=group.n_specimens,
        placement=group.placement,
        is_target=curve.is_at_target(group.age_h, group.maturity_h),
        is_inside=is_inside,
    )
