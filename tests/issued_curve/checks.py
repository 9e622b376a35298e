"""Companions and site checks for tests, with what matters given and the rest filled in."""

from __future__ import annotations

from planner.issued_curve.rules.companions import Companions
from planner.issued_curve.rules.site_check import SiteCheck


def companions(
    difference: float = 0.0,
    *,
    batch: str = "P1",
    n: int = 3,
    age_h: float = 12.0,
    maturity_h: float = 12.0,
    is_target: bool = True,
    is_inside: bool = True,
) -> Companions:
    """Companions that broke by this share above (below) a reading of 20 MPa."""
    return Companions(
        batch=batch,
        age_h=age_h,
        maturity_h=maturity_h,
        read_mpa=20.0,
        broken_mpa=20.0 * (1.0 + difference),
        n_specimens=n,
        is_target=is_target,
        is_inside=is_inside,
    )


def site_check(
    difference: float = 0.0,
    *,
    pour: str = "",
    maturity_h: float = 12.0,
    safe_mpa: float | None = 16.0,
    required_mpa: float | None = 15.0,
    is_inside: bool = True,
) -> SiteCheck:
    """One check of three companions with a scatter of 3 %; of no named pour unless one is given."""
    return SiteCheck(
        companions=companions(difference, batch=pour, maturity_h=maturity_h, is_inside=is_inside),
        within_test_cv=0.03,
        safe_mpa=safe_mpa,
        required_mpa=required_mpa,
    )
