"""Short words for values, the same on every output."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from planner.terms.schedule import Schedule

HOURS_PER_DAY = 24.0
MOST_USEFUL_BOUND = 0.50  # an error bounded by more than half the strength tells nobody anything
LEAST_USEFUL_SHARE = 0.01  # a share that is "at least 0 %" tells nothing either
NO_USEFUL_BOUND = "no useful bound can be given"


def age_label(age_h: float) -> str:
    """Write an age as the trade says it: hours below one day and for odd ages, days for whole days."""
    if age_h >= HOURS_PER_DAY and age_h % HOURS_PER_DAY == 0:
        return f"{age_h / HOURS_PER_DAY:g} d"
    return f"{age_h:g} h"


def clock_label(at: dt.datetime, pattern: str) -> str:
    """Write a wall-clock time; one that comes twice, the night the clocks go back, with its offset: ``02:30+02:00``.

    Parameters
    ----------
    pattern
        Of `datetime.strftime`, ending in the minutes or seconds.
    """
    text = at.strftime(pattern)
    comes_once = at.replace(fold=0).utcoffset() == at.replace(fold=1).utcoffset()
    return text if comes_once else text + at.isoformat(timespec="minutes")[len("2027-10-31T02:30") :]


def digits_label(value: float, digits: int) -> str:
    """Write a figure with so many digits and without an exponent: 112 with two is 110."""
    return f"{float(f'{value:.{digits}g}'):.10g}"


def ages_label(ages_h: Sequence[float]) -> str:
    """``8 h, 16 h, 1 d``."""
    return ", ".join(age_label(age) for age in ages_h)


def listed(words: Iterable[object], *, most: int = 8, between: str = ", ") -> str:
    """Write the first of words as a list, the rest as a number: ``a, b and 3 more``."""
    given = [str(word) for word in words]
    text = between.join(given[:most])
    return text if len(given) <= most else f"{text} and {len(given) - most} more"


def shortened(text: str, *, most: int = 80) -> str:
    """Repeat a given text in a message: on one line, no longer than `most`."""
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[: most - 3]}..."


def strength_label(strength_mpa: float) -> str:
    """Write a strength that is waited for: ``20 MPa``."""
    return f"{strength_mpa:.4g} MPa"


def target_label(age_h: float, strength_mpa: float | None = None) -> str:
    """Write a target: an age, or a strength with the age at which the records typically reach it."""
    return age_label(age_h) if strength_mpa is None else f"{strength_label(strength_mpa)} (about {age_label(age_h)})"


def schedule_label(schedule: Schedule) -> str:
    """Write a schedule as `[compare] schedules` reads it: ``6 h x3, 1 d x3``."""
    return ", ".join(
        f"{age_label(age)} x{count}" for age, count in zip(schedule.ages_h, schedule.specimens, strict=True)
    )


def counted(number: int, one: str, many: str = "") -> str:
    """``1 break``, ``3 breaks``; `many` where it is not `one` with an s."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def money_label(amount: float) -> str:
    """Write money to the cent, cents only where there are some: ``216``, ``7.35``."""
    return f"{amount:.2f}".removesuffix(".00")


def trial_batches_label(number: int) -> str:
    """Write how many trial batches: ``one trial batch``, ``2 trial batches``."""
    return "one trial batch" if number == 1 else f"{number} trial batches"


def percent(share: float, *, is_signed: bool = False, digits: int = 1) -> str:
    """Write a relative figure as a percentage: ``3.1 %``."""
    text = f"{100 * share:+.{digits}f}" if is_signed else f"{100 * share:.{digits}f}"
    return f"{text} %"


def is_useful_bound(bound: float) -> bool:
    """Whether an upper bound of a relative error tells anything."""
    return bound <= MOST_USEFUL_BOUND


def at_most_label(bound: float) -> str:
    """Write the upper bound of an error: ``at most 5.1 % at 95 %``, or that there is none worth telling."""
    return f"at most {percent(bound)} at 95 %" if is_useful_bound(bound) else NO_USEFUL_BOUND


def at_least_label(share: float | None) -> str:
    """Write the lower bound of a share behind it: `` (95 % sure: at least 35 %)``; nothing where there is none."""
    if share is None:
        return ""
    if share < LEAST_USEFUL_SHARE:
        return f" ({NO_USEFUL_BOUND})"
    return f" (95 % sure: at least {percent(share, digits=0)})"


def ages_words(n_ages: int) -> str:
    """``1 age``, ``4 ages``."""
    return f"{n_ages} age{'' if n_ages == 1 else 's'}"
