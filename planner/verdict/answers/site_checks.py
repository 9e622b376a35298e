"""Checks of later pours: what passes, how often chance fails one, and how many show a lasting offset."""

from __future__ import annotations

import math

from planner.terms.labels import percent
from planner.terms.programme_count import SiteChecks

ONE_SIDED_95 = 1.644854  # quantiles of the standard normal law
ONE_SIDED_90 = 1.281552
FEWEST_TO_JUDGE = 2
MOST_PRACTICAL = 20  # checks; beyond, counting them is no plan
USUAL_COMPANIONS = 2  # where the plan names none


def site_checks(
    *,
    later_rms: float,
    within_test_cv: float,
    companions_per_check: int,
    n_checks: int,
    tolerance: float,
) -> SiteChecks:
    """Design the checks from what is known of later pours.

    One check departs from the reading with the error of a later pour and the scatter of its companions'
    mean. The mean of n checks tells an offset of one tolerance from none, at 5 % false alarm and 90 %
    power, when ``n >= ((1.645 + 1.282) s / tolerance)^2`` (normal law, derived).

    Parameters
    ----------
    later_rms
        RMS error on a later pour; own batch where that is all that is known.
    within_test_cv
        Scatter of replicates at the target ages, relative.
    companions_per_check, n_checks
        Of the plan; two companions are reckoned with where it names none.
    """
    companions = companions_per_check or USUAL_COMPANIONS
    scatter = math.sqrt(later_rms**2 + within_test_cv**2 / companions)
    to_notice = max(FEWEST_TO_JUDGE, math.ceil(((ONE_SIDED_95 + ONE_SIDED_90) * scatter / tolerance) ** 2))
    limit = ONE_SIDED_95 * scatter / math.sqrt(to_notice)
    alarm = math.erfc(tolerance / scatter / math.sqrt(2.0))
    return SiteChecks(
        companions_per_check=companions,
        n_checks=n_checks,
        n_checks_to_notice=to_notice,
        scatter=scatter,
        chance_of_false_alarm=alarm,
        rule=(
            f"A check passes when the mean of its {companions} companions lies within {percent(tolerance)} of "
            f"the reading; by chance alone {percent(alarm, digits=0)} of checks of a good curve do not. "
            + _redo_words(to_notice, limit, tolerance)
        ),
    )


def _redo_words(to_notice: int, limit: float, tolerance: float) -> str:
    if to_notice > MOST_PRACTICAL:
        return (
            f"Later pours differ so much that more than {MOST_PRACTICAL} checks would be needed to tell a lasting "
            f"offset of {percent(tolerance)} from chance: calibrate on more trial batches, and use the "
            "companions of each pour."
        )
    return (
        f"The curve is redone when {to_notice} checks in a row depart from it by more than {percent(limit)} on the "
        f"mean: a lasting offset of {percent(tolerance)} is noticed so 9 times in 10, at 5 % false alarm."
    )
