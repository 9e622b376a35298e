"""What has to be known before an issued curve is relied on: one caution each, with its figure and what to do."""

from __future__ import annotations

from collections.abc import Iterator

from planner.issued_curve.calibration.expectation import Expectation, Likeness
from planner.issued_curve.calibration.issue import IssueFigures
from planner.issued_curve.rules.acceptance import Verdict
from planner.terms.labels import age_label, percent
from planner.terms.problems import Caution


def issue_cautions(issue: IssueFigures, *, n_planned: int, not_calibrated_because: str = "") -> Iterator[Caution]:
    """Cautions on one issued curve, the gravest first.

    Parameters
    ----------
    n_planned
        Trial batches that are recommended.
    not_calibrated_because
        Why the mean of the records is no calibration; "" where it is one, and where a trial batch was cast.
    """
    if issue.curve.basis == "records":
        yield from _of_records(issue, not_calibrated_because)
    else:
        yield from _of_verdict(issue)
    yield from _of_conversion(issue)
    yield from _of_promises(issue)
    for fit, expectation in zip(issue.fits, issue.expectations, strict=True):
        yield from _of_expectation(fit.means.batch, expectation)
    yield from _of_range(issue)
    if len(issue.fits) < n_planned:
        yield Caution(
            "fewer-trial-batches",
            f"{n_planned} trial batches are recommended, the curve rests on {len(issue.fits)}. It is provisional until "
            "the others are broken and it is issued anew.",
        )


def _of_records(issue: IssueFigures, why_not: str) -> Iterator[Caution]:
    if not issue.curve.is_calibrated:
        yield Caution(
            "not-calibrated",
            f"The curve is NOT CALIBRATED: {why_not}. No pour may be released by it. Cast a trial batch.",
        )
    yield Caution(
        "no-trial-batch",
        f"No trial batch was cast: the curve rests on {issue.curve.promise.n_batches} earlier batches alone. It holds "
        "while cement, admixture, aggregate and proportions are still theirs; a specification or a standard may ask "
        "for a new calibration all the same.",
    )


def _of_verdict(issue: IssueFigures) -> Iterator[Caution]:
    accepted = issue.acceptance
    if accepted is None:
        yield Caution(
            "not-judged",
            "The error on the own batch is not known from one earlier batch, so that the companions cannot be judged. "
            "Give the records of three batches or more.",
        )
        return
    missing = [
        age
        for age in issue.curve.target_ages_h
        if not any(check.companions.age_h == age and check.is_judged for check in accepted.checks)
    ]
    if missing:
        yield Caution(
            "targets-without-companions",
            f"No site-cured companions were broken at {', '.join(age_label(age) for age in missing)}: the curve is not "
            "accepted there by anything but its own breaks. Break companions at every target before it is used.",
        )
    if accepted.verdict is Verdict.REPEAT:
        yield Caution("repeat", "The calibration is refused: repeat the trial batch. This curve is not to be used.")
    if accepted.verdict is Verdict.BREAK_MORE:
        yield Caution("break-more", "The calibration is not accepted yet: break more companions before it is used.")
    outside = [check.companions for check in accepted.checks if not check.is_judged]
    if outside:
        listed = ", ".join(age_label(item.age_h) for item in outside)
        yield Caution(
            "companions-outside",
            f"Companions at {listed} lie outside the maturities of the breaks and are not judged.",
        )


def _of_conversion(issue: IssueFigures) -> Iterator[Caution]:
    found = issue.curve.conversion
    if found is None:
        return
    pair = f"{found.from_geometry} read as {found.to_geometry}"
    if found.span_mpa is None:
        yield Caution(
            "conversion-stated",
            f"{pair}: the factor {found.factor:.3f} with {percent(found.rms)} is the plan's word, no pairs check it. "
            "Do not release on it before both geometries were cast together in three batches or more and the engineer "
            "agrees.",
        )
    else:
        low, high = found.span_mpa
        yield Caution(
            "conversion-in-use",
            f"{pair}, by pairs from {low:.1f} to {high:.1f} MPa broken: the curve ends where they end. It may serve "
            f"a specification that speaks of the {found.to_geometry} only while the pairs span the deciding strength, "
            "safe readings rest on the total error as here, and the responsible engineer agrees.",
        )
    yield Caution(
        "companions-converted",
        f"Companions of the {found.from_geometry} are converted as the curve is: they check the curve and say nothing "
        f"of the conversion. Cast companions of the {found.to_geometry} with some pours; they are compared as "
        "they are.",
    )


def _of_promises(issue: IssueFigures) -> Iterator[Caution]:
    promise = issue.curve.promise
    if promise.safe_factor is None:
        yield Caution(
            "no-safe-reading",
            "No safe reading is given: the earlier batches do not show how later pours of one mix differ from a trial "
            "batch. Break site-cured companions of every pour.",
        )
    if promise.later_rms is None:
        yield Caution(
            "checks-without-limits",
            "The error on a later pour is not known, so that site checks have no limits. Give two batches or more of "
            "one mix, or [prior] between_batch_cv.",
        )
    elif promise.own_rms is not None and promise.later_rms > 1.5 * promise.own_rms:
        yield Caution(
            "later-pours",
            f"This batch is read within about {percent(promise.own_rms)}, a later pour within about "
            f"{percent(promise.later_rms)} (RMS): pours differ. The companions say nothing about that.",
        )


def _of_expectation(batch: str, expectation: Expectation) -> Iterator[Caution]:
    if expectation.likeness is Likeness.STRANGER:
        mean_departure = (
            ""
            if expectation.mean_departure is None
            else f", {percent(expectation.mean_departure, is_signed=True)} on the mean"
        )
        yield Caution(
            "stranger",
            f"Batch {batch} does not grow like the earlier batches{mean_departure}. Look at cement, water, admixture, "
            "temperatures and ends before the curve is used; the error figures are those of the earlier concrete.",
        )
    elif expectation.likeness is Likeness.CANNOT_BE_TOLD:
        deficit = expectation.noticed_deficit
        text = "" if deficit is None else f" (only a weakness of {percent(deficit, digits=0)} is noticed 9 times in 10)"
        because = f"from so few of them{text}"
        if not expectation.ages:
            because = "at ages at which fewer than three of them were broken"
        yield Caution("likeness-not-told", f"Whether batch {batch} is like the earlier ones cannot be told {because}.")


def _of_range(issue: IssueFigures) -> Iterator[Caution]:
    outside = [reading.age_h for reading in issue.readings if not reading.is_inside]
    if outside:
        yield Caution(
            "target-outside",
            f"At {', '.join(age_label(age) for age in outside)} the curve would be read outside the maturities of its "
            "breaks: no safe reading there. Break younger or older ages.",
        )
    yield from _of_cold(issue)
    if issue.curve.maturity.method == "age":
        yield Caution(
            "age-is-the-clock",
            "No temperatures are given: age stands for maturity. Companions are compared at their age, and a pour "
            "colder than the curing room is read too high.",
        )
    elif issue.curve.temperature_c is None:
        yield Caution(
            "temperatures-not-limited",
            "No site-cured companions with temperatures stand behind the constants; the range of concrete "
            "temperature is not known. State [site] mean_concrete_temperature_c.",
        )


def _of_cold(issue: IssueFigures) -> Iterator[Caution]:
    """Targets that the coldest concrete reaches before the first break's maturity."""
    curve = issue.curve
    if curve.temperature_c is None:
        return
    coldest, youngest = curve.temperature_c[0], curve.span_h[0]
    first_h = curve.hours_at(youngest, coldest)
    early = [age for age in curve.target_ages_h if age < first_h and curve.holds_at(curve.maturity_of_age(age))]
    if early:
        yield Caution(
            "too-cold-for-target",
            f"Concrete at {coldest:.0f} C reaches the maturity of the first break only at {first_h:.1f} h: at "
            f"{', '.join(age_label(age) for age in early)} there is no reading in the cold. Break a younger age, or "
            "wait.",
        )
