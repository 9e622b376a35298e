"""What is said of the records while they are sorted: batches, ages and truths that cannot serve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.terms.labels import age_label, counted, listed, strength_label
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Caution

MOST_SHOWN = 6  # truths that are too weak
MOST_GROUPS_SHOWN = 8  # groups of breaks or batches that cannot serve


def not_checked(batch: str, target_h: float) -> Caution:
    """A batch without a truth at a target."""
    return Caution(
        "batch-not-checked",
        f"Batch {batch} was not broken at {age_label(target_h)} and cannot judge a choice; "
        "it is left out. Break companions at every target age.",
    )


def strength_not_reached(batch: str, strength_mpa: float, means_mpa: Sequence[float]) -> Caution:
    """A batch that was never as strong as is waited for, or already stronger when first broken, or hardly grew."""
    weakest, strongest = min(means_mpa), max(means_mpa)
    label = strength_label(strength_mpa)
    if strongest <= strength_mpa:
        why = f"never reached {label} (strongest {strongest:.1f} MPa)"
    elif weakest > strength_mpa:
        why = f"was already stronger than {label} when first broken ({weakest:.1f} MPa)"
    else:
        why = f"has no two means around {label} that lie far enough apart ({weakest:.1f} to {strongest:.1f} MPa)"
    return Caution(
        "strength-not-reached",
        f"Batch {batch} {why} and cannot judge a choice; it is left out. "
        "Break specimens on both sides of every strength that is waited for.",
    )


def age_for_maturity() -> Caution:
    """No temperature is known at all."""
    return Caution(
        "age-is-the-clock",
        "No temperatures are given, so age stands for maturity and no accuracy on site is claimed. "
        "Give temperature records, or [prior] standard_curing_c.",
    )


def constants_not_told_apart(
    span_k: float, least_k: float, used: MaturitySetting, reference_c: float, *, is_of_mortar: bool
) -> Caution:
    """Temperatures lie so close together that every constant serves alike."""
    says = ", as the mortar tells, not the concrete" if is_of_mortar else ""
    return Caution(
        "constants-not-told-apart",
        f"The recorded temperatures span {span_k:.1f} K, less than {least_k:g} K, so they cannot tell "
        f"maturity constants apart: {used} is used{says} and not searched. Record specimens cured "
        f"well away from {reference_c:g} C to learn the constant.",
    )


def without_temperature(n_breaks: int, groups: Sequence[str]) -> Caution:
    """Breaks that have no temperature record; `groups` name their batches and curing."""
    return Caution(
        "breaks-without-temperature",
        f"Not used, without a temperature record: {counted(n_breaks, 'break')} "
        f"({', '.join(groups[:MOST_GROUPS_SHOWN])}"
        f"{' and others' if len(groups) > MOST_GROUPS_SHOWN else ''}). Give their records"
        " or, for standard curing, [prior] standard_curing_c.",
    )


def companions_alone(batches: Sequence[str]) -> Caution:
    """Batches of which nothing was broken but companions."""
    return Caution(
        "companions-alone",
        f"No curve can be fitted to {listed(batches, most=MOST_GROUPS_SHOWN)}: there are companions on site "
        "alone, and they are left out. Join their standard-cured breaks.",
    )


def never_broken(nearest_h: Mapping[float, float]) -> Caution:
    """Candidate ages that are not in the records, each with the nearest that is."""
    listed = ", ".join(f"{age_label(age)} (nearest broken: {age_label(near)})" for age, near in nearest_h.items())
    return Caution("age-not-in-records", f"Candidate ages that no batch was broken at are not offered: {listed}.")


def only_checks(ages_h: Sequence[float], fewest: int) -> Caution:
    """Ages whose specimens are all needed as the truth."""
    return Caution(
        "age-only-checks",
        f"{', '.join(age_label(age) for age in ages_h)} cannot be a break age: the few specimens there are what "
        f"readings are checked against. Break {fewest} or more there, or companions on site.",
    )


def truths_too_weak(truths: Sequence[str], least_mpa: float, n_left_out: int) -> Caution:
    """Truths that judge nothing, all in one; `n_left_out` batches then have none left."""
    shown = "; ".join(truths[:MOST_SHOWN])
    more = len(truths) - MOST_SHOWN
    counted = "1 truth is" if len(truths) == 1 else f"{len(truths)} truths are"
    lost = f" {n_left_out} of the batches then judge nothing." if n_left_out else ""
    return Caution(
        "truths-too-weak",
        f"{counted} weaker than [choices] least_strength_mpa = {least_mpa:g} and used as no check: {shown}"
        f"{f' and {more} more' if more > 0 else ''}.{lost} A percentage of so little strength would outweigh all "
        "others. Lower least_strength_mpa where such strengths matter.",
    )
