"""The figures that head terminal and page alike: how far off a later pour and the own batch are read, and the verdict.

A later pour has two errors: that of the fixed programme, and that of the whole choosing repeated without the batches
that judge it. Wherever the second stands, its name stands beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.report.text import words
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.recommendation import Recommendation

HELD_OUT = "choosing held out"
NO_GROWTH = "strength-does-not-grow"  # code of the caution that takes the verdict on later pours away


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterFigures:
    """The error of later pours and whether it is good enough, ready to be put into a sentence or a table."""

    rms: str
    named: str  # what kind of error it is, and what it is with the choosing held out
    share: str  # of later pours within the tolerance
    verdict: str  # what that share is of, what was wanted, and whether it is enough


def later_figures(advice: Recommendation) -> LaterFigures | None:
    """The fixed programme's own figures where they are known, else those held out; None where nothing may be said."""
    later = advice.honest.next_batch
    if later is None or not words.is_error_promised(advice):
        return None
    bound = words.at_most(advice, later.rms_upper_95)
    fixed = None if advice.spending is None else advice.spending.recommended.next_batch
    if fixed is None:
        is_enough = later.within_tolerance >= advice.assurance
        return LaterFigures(
            rms=words.share(later.rms),
            named=f"RMS{bound}",
            share=words.whole_share(later.within_tolerance),
            verdict=_verdict(advice, is_enough=is_enough),
        )
    return LaterFigures(
        rms=words.share(fixed.rms),
        named=f"RMS; {HELD_OUT} {words.share(later.rms)}{bound}",
        share=words.whole_share(fixed.within_tolerance),
        verdict=_verdict(advice, is_enough=fixed.within_tolerance >= advice.assurance),
    )


def programme_figures(programme: Programme, advice: Recommendation) -> LaterFigures | None:
    """The same of a programme that was not chosen: nothing was held out of choosing it; None where not known."""
    later = programme.next_batch
    if later is None or not words.is_error_promised(advice):
        return None
    return LaterFigures(
        rms=words.share(later.rms),
        named="RMS",
        share=words.whole_share(later.within_tolerance),
        verdict=_verdict(advice, is_enough=later.within_tolerance >= advice.assurance),
    )


def own_figures(advice: Recommendation) -> tuple[str, str] | None:
    """The error on the own batch and what kind it is: the fixed programme's own where it is known; None without any."""
    own, spending = advice.honest.own_batch, advice.spending
    if own is None:
        return None
    bound, nested = words.at_most(advice, own.rms_upper_95), words.share(own.nested_rms)
    floor = ", the least these records can resolve" if own.is_below_resolution else ""
    if spending is None:
        return nested, f"RMS{floor}{bound}"
    return words.share(spending.recommended.own_batch_rms), f"RMS; {HELD_OUT} {nested}{floor}{bound}"


def _verdict(advice: Recommendation, *, is_enough: bool) -> str:
    wanted = f"{words.whole_share(advice.assurance)} wanted"
    within = f"within {words.share(advice.tolerance)}"
    if is_enough and advice.evidence.grade != "measured":
        return f"{within} of drawn batches, {wanted}: NOT SHOWN by breaks"
    if is_enough and any(caution.code == NO_GROWTH for caution in advice.cautions):
        return f"{within}, {wanted}: NOT SHOWN, strength does not grow with age"
    return f"{within}, {wanted}: {'good enough' if is_enough else 'NOT GOOD ENOUGH'}"
