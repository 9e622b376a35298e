"""Published growth of strength, for where there is no break at all. It knows nothing of setting time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.labels import age_label
from planner.terms.problems import InputError, Problem

DAY_H = 24.0
NO_PROMISE_BELOW_H = 72.0  # EN 1992-1-1 3.1.2 asks for tests at 3 d and below (from memory)
_LEAST_SHARE = 1e-6


@dataclass(frozen=True, slots=True)
class Law:
    """Share of the 28 d strength over age at standard curing."""

    name: str
    share: Callable[[FloatArray], FloatArray]  # of ages [d]
    source: str
    temperature_c: tuple[float, float] | None  # concrete temperatures its maturity is good for; None: none
    temperature_source: str
    earliest_target_h: float = 0.0  # targets below it are not served
    set_h: float | None = None  # where the law itself says when strength begins


def beta_cc(age_d: FloatArray, *, s: float) -> FloatArray:
    """Strength over that of 28 d: ``exp(s (1 - sqrt(28 / t)))``, EN 1992-1-1:2004 (3.2). Any shape."""
    return np.asarray(np.exp(s * (1.0 - np.sqrt(28.0 / np.maximum(age_d, 1e-9)))))


def aci_209r(age_d: FloatArray, *, a: float, b: float) -> FloatArray:
    """Strength over that of 28 d: ``t / (a + b t)``, ACI 209R-92. Any shape."""
    return np.asarray(age_d / (a + b * age_d))


def untreated_uhp(age_d: FloatArray) -> FloatArray:
    """Strength over that of 28 d of one mix: ``1 - exp(-((t - 0.9) / 3)^0.6)``, zero before 0.9 d. Any shape.

    References
    ----------
    FHWA-HRT-06-103.  (from memory)
    """
    since = np.maximum(age_d - 0.9, 0.0)
    return np.asarray(-np.expm1(-((since / 3.0) ** 0.6)))


def _en(name: str, s: float) -> Law:
    return Law(
        f"EN 1992-1-1 class {name}",
        lambda age_d: beta_cc(age_d, s=s),
        f"EN 1992-1-1:2004 (3.2), s = {s:g}",
        (0.0, 40.0),
        "EN 1992-1-1 (B.10) is stated for 0 to 80 C; the usual constants rest on about 0 to 40 C (from memory)",
    )


def _aci(name: str, a: float, b: float, *, is_steam: bool) -> Law:
    return Law(
        f"ACI 209R {name}",
        lambda age_d: aci_209r(age_d, a=a, b=b),
        f"ACI 209R-92, a = {a:g}, b = {b:g}",
        None if is_steam else (10.0, 32.0),
        "steam curing has its own temperatures, which no site range describes"
        if is_steam
        else "moist curing near room temperature; 10 to 32 C is common practice, no source",
    )


LAWS: tuple[Law, ...] = (
    _en("R", 0.20),
    _en("N", 0.25),
    _en("S", 0.38),
    _aci("Type I moist", 4.0, 0.85, is_steam=False),
    _aci("Type III moist", 2.3, 0.92, is_steam=False),
    _aci("Type I steam", 1.0, 0.95, is_steam=True),
    _aci("Type III steam", 0.70, 0.98, is_steam=True),
    Law(
        "one untreated ultra-high-performance mix",
        untreated_uhp,
        "FHWA-HRT-06-103 (from memory)",
        (10.0, 40.0),
        "one programme near room temperature; 10 to 40 C is common practice, no source",
        earliest_target_h=36.0,
        set_h=0.9 * DAY_H,
    ),
)


def published_law(name: str, targets_h: tuple[float, ...]) -> Law:
    """Find a law by its name.

    Raises
    ------
    InputError
        Where the name is not known, or targets lie below what the law serves.
    """
    wanted = _folded(name)
    for law in LAWS:
        if _folded(law.name) == wanted:
            early = [age_label(age) for age in targets_h if age < law.earliest_target_h]
            if early:
                raise InputError([_too_early(law, early)])
            return law
    raise InputError([_unknown(name)])


def _too_early(law: Law, early: list[str]) -> Problem:
    return Problem(
        "plan",
        f'"{law.name}" has no strength before {age_label(law.set_h or 0.0)} and does not serve targets below '
        f"{age_label(law.earliest_target_h)}, given {', '.join(early)}. Predict later ages, or break a batch.",
        column="target.ages",
    )


def _unknown(name: str) -> Problem:
    known = {_folded(law.name): law.name for law in LAWS}
    near = get_close_matches(_folded(name), known, n=1)
    hint = f' Did you mean "{known[near[0]]}"?' if near else ""
    return Problem(
        "plan",
        f'Published growth "{name}" is not known.{hint} Known are {", ".join(law.name for law in LAWS)}.',
        column="prior.published",
    )


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()


def log_share(law: Law, age_h: FloatArray) -> FloatArray:
    """Logarithm of the share of the 28 d strength, very low where the law has none. Any shape."""
    return np.asarray(np.log(np.maximum(law.share(age_h / DAY_H), _LEAST_SHARE)))
