"""What each caution can do to the decision, so that the few that matter most stand first."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum

from planner.terms.problems import Caution

MOST_LEADING = 4


class Concern(IntEnum):
    """What a caution puts in doubt, the gravest first."""

    RELEASE = 0  # a reading that may be taken for safe when it is not
    DECISION = 1  # what is cast, when it is broken, which curve is used
    ACCURACY = 2  # how far off the stated errors may be
    NOTE = 3  # what was assumed or noticed on the way


# "other-pour" is a note: its two errors head every first screen, and what helps stands below them
CONCERNS: dict[str, Concern] = {
    "no-safe-reading": Concern.RELEASE,
    "strength-does-not-grow": Concern.RELEASE,
    "frozen-or-nearly": Concern.RELEASE,
    "published-growth-promises-nothing": Concern.RELEASE,
    "conversion-stated": Concern.RELEASE,
    "conversion-outside-pairs": Concern.RELEASE,
    "conversion-in-use": Concern.DECISION,
    "specification-of-another-geometry": Concern.DECISION,
    "nothing-cast": Concern.DECISION,
    "over-prediction": Concern.DECISION,
    "published-growth-alone": Concern.DECISION,
    "untested-ages": Concern.DECISION,
    "wide-strength-step": Concern.DECISION,
    "target-outside-span": Concern.DECISION,
    "mix-not-in-records": Concern.DECISION,
    "mixes-pooled": Concern.DECISION,
    "curing-room-off": Concern.DECISION,
    "mortar-against-companions": Concern.DECISION,
    "site-outside-records": Concern.DECISION,
    "age-is-the-clock": Concern.DECISION,
    "above-70-c": Concern.DECISION,
    "above-65-c": Concern.DECISION,
    "site-too-hot": Concern.DECISION,
    "cold-with-low-datum": Concern.DECISION,
    "outside-published-temperatures": Concern.DECISION,
    "strengths-all-equal": Concern.ACCURACY,
    "temperature-constant": Concern.ACCURACY,
    "checked-in-the-curing-room": Concern.ACCURACY,
    "extrapolation": Concern.ACCURACY,
    "one-sensor": Concern.ACCURACY,
    "few-batches": Concern.ACCURACY,
    "little-to-draw-from": Concern.ACCURACY,
    "one-family-truth": Concern.ACCURACY,
    "early-age-without-record": Concern.ACCURACY,
    "site-range-looks-like-weather": Concern.ACCURACY,
    "site-beyond-constants": Concern.ACCURACY,
    "site-heat-treated": Concern.ACCURACY,
    "records-heat-treated": Concern.ACCURACY,
    "above-40-c": Concern.ACCURACY,
    "mortar-cured-hot": Concern.ACCURACY,
    "mortar-tells-no-q": Concern.ACCURACY,
    "below-machine-range": Concern.ACCURACY,
    "above-machine-capacity": Concern.DECISION,
    "before-form-removal": Concern.ACCURACY,
    "scatter-beyond-precision": Concern.ACCURACY,
    "two-specimens": Concern.ACCURACY,
    "truths-too-weak": Concern.ACCURACY,
    "conversion-changes-with-age": Concern.ACCURACY,
    "conversion-and-curve-offset": Concern.ACCURACY,
    "small-specimen": Concern.ACCURACY,
    "aggregate-too-coarse": Concern.ACCURACY,
    "fibres-too-long": Concern.ACCURACY,
}


def concern_of(code: str) -> Concern:
    """What a caution puts in doubt; what is not listed is a note."""
    return CONCERNS.get(code, Concern.NOTE)


def ranked(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Each caution once, the gravest first, in the order given among equals."""
    return tuple(sorted(dict.fromkeys(cautions), key=lambda caution: concern_of(caution.code)))


def n_leading(cautions: Iterable[Caution]) -> int:
    """How many of the ranked cautions stand on a first screen: all on release, and up to four in all.

    Notes never lead: they change no decision.
    """
    concerns = [concern_of(caution.code) for caution in cautions]
    n_release = concerns.count(Concern.RELEASE)
    n_telling = sum(concern < Concern.NOTE for concern in concerns)
    return max(n_release, min(n_telling, MOST_LEADING))
