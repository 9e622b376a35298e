"""One target's least in a paragraph."""

from __future__ import annotations

from planner.terms.labels import age_label, at_least_label, percent, schedule_label
from planner.terms.results.answers import AgeBound, AgeNeed, Need, Standing


def minimum_words(
    age_h: float | None,
    free: Standing | None,
    fewest: Standing | None,
    needs: tuple[AgeNeed, ...],
    bounds: tuple[AgeBound, ...],
    *,
    tolerance: float,
    assurance: float,
) -> str:
    """The fewest breaks, the ages that must be there and the bounds; or that no schedule will do."""
    what = "All targets together" if age_h is None else f"{age_label(age_h)}"
    within = percent(tolerance, digits=0)
    wanted = percent(assurance, digits=0)
    if free is None:
        return f"{what}: nothing can be said, for fewer than two batches can be held against each other."
    if fewest is None:
        return (
            f"{what}: no schedule keeps {wanted} of batches within {within} on their own concrete; the best, "
            f"{schedule_label(free.schedule)}, keeps {percent(free.within_tolerance, digits=0)} "
            f"(error {percent(free.rms)} RMS)."
        ) + _later_words(free, within, assurance)
    text = (
        f"{what}: {fewest.schedule.n_ages} ages and {fewest.schedule.n_specimens} specimens are the fewest, "
        f"{schedule_label(fewest.schedule)}: error {percent(fewest.rms)} RMS, "
        f"{percent(fewest.within_tolerance, digits=0)} of batches within {within} on their own concrete"
    )
    text += at_least_label(fewest.within_tolerance_lower_95)
    return text + "." + _later_words(fewest, within, assurance) + _needs_words(needs) + _bounds_words(bounds)


def _later_words(found: Standing, within: str, assurance: float) -> str:
    """What the same schedule keeps inside on later pours, where that is not enough."""
    if found.later_within_tolerance is None or found.later_within_tolerance >= assurance:
        return ""
    return (
        f" Later pours read off its curve are another matter: {percent(found.later_within_tolerance, digits=0)} of "
        f"them within {within}, and no break age mends how pours differ."
    )


def _needs_words(needs: tuple[AgeNeed, ...]) -> str:
    def named(need: Need) -> str:
        return ", ".join(age_label(item.age_h) for item in needs if item.need == need)

    must, may, useless = named("must be there"), named("may be there"), named("does not help")
    text = f" Must be there: {must}." if must else " No single age must be there: others can stand in for it."
    text += f" May be there: {may}." if may else ""
    return text + (f" Does not help: {useless}." if useless else "")


def _bounds_words(bounds: tuple[AgeBound, ...]) -> str:
    text = ""
    for bound in bounds:
        times = f"{bound.multiple:.2g} times the {{}} target's maturity (standard-cured {age_label(bound.age_h)})"
        if bound.which == "first break":
            if bound.multiple > 1.0:
                text += " Even a first break after the target keeps the error inside here, but that is extrapolation."
            elif not bound.is_free:
                text += f" First break no later than {times.format('earliest')}."
        elif bound.multiple < 1.0:
            text += " Even a last break before the target keeps the error inside here, but that is extrapolation."
        elif not bound.is_free:
            text += f" Last break no earlier than {times.format('latest')}."
    return text
