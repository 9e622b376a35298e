"""What is said of a range of mean concrete temperatures."""

from __future__ import annotations

import numpy as np

from planner.maturity import arrhenius_factor
from planner.terms.plan.hot_concrete import HEATED_C, IN_PLACE_LIMIT_C, PRECAST_LIMIT_C
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution

# Concrete makes heat of its own and swings less than air. Common practice, no source:
COLDEST_CONCRETE_C = 5.0
WIDEST_CONCRETE_K = 30.0
CONSTANTS_C = (0.0, 40.0)  # what the usual constants rest on (from memory)
Q_STEP_K = 1000.0  # by about so much the Q of one mix and another differ


def site_cautions(settings: Settings, standard_c: float | None) -> tuple[Caution, ...]:
    """Question ranges that look like weather, are heat treatment, or that maturity is not good for."""
    if settings.site_temperature_c is None:
        return ()
    coolest, warmest = settings.site_temperature_c
    given = f"{coolest:g} to {warmest:g} C"
    said = []
    if standard_c is None:
        said.append(
            Caution(
                "site-not-scored",
                f"The site range {given} is not used: without temperatures of standard curing, age stands for "
                "maturity. Give [prior] standard_curing_c.",
            )
        )
    is_heated = warmest > HEATED_C
    if not is_heated and (coolest < COLDEST_CONCRETE_C or warmest - coolest > WIDEST_CONCRETE_K):
        said.append(
            Caution(
                "site-range-looks-like-weather",
                f"Mean concrete temperatures of {given} look like the weather. Concrete warms itself, and its mean "
                "up to the target age swings less than the air; give temperatures inside the concrete.",
            )
        )
    if is_heated:
        said.append(_heat_caution(given, warmest, standard_c))
    elif coolest < CONSTANTS_C[0] or warmest > CONSTANTS_C[1]:
        said.append(
            Caution(
                "site-beyond-constants",
                f"The site range {given} leaves the {CONSTANTS_C[0]:g} to {CONSTANTS_C[1]:g} C that the usual maturity "
                "constants rest on. Break companions cured at its ends.",
            )
        )
    if warmest > PRECAST_LIMIT_C:
        said.append(
            Caution(
                "site-too-hot",
                f"At {warmest:g} C inside the concrete delayed ettringite formation may be a danger. EN 13369 limits "
                f"heat-treated precast products to {PRECAST_LIMIT_C:g} C in damp surroundings, EN 13670 concrete cast "
                f"in place to {IN_PLACE_LIMIT_C:g} C (both from memory). The project specification decides; ask the "
                "responsible engineer before such a treatment.",
            )
        )
    return tuple(said)


def _heat_caution(given: str, warmest_c: float, standard_c: float | None) -> Caution:
    """Say what maturity is worth under heat treatment: how much one step of Q moves an hour at the warmest."""
    text = (
        f"The site range {given} is a heat treatment, and the usual maturity constants rest on "
        f"{CONSTANTS_C[0]:g} to {CONSTANTS_C[1]:g} C. "
    )
    if standard_c is not None:
        more = float(arrhenius_factor(np.array([warmest_c]), q_k=Q_STEP_K, reference_c=standard_c)[0]) - 1.0
        text += (
            f"With a Q that is {Q_STEP_K:g} K higher an hour at {warmest_c:g} C counts {100 * more:.0f} % more beside "
            f"{standard_c:g} C (derived), so a curve can over-read there by far. "
        )
    return Caution(
        "site-heat-treated",
        text + "Trust companions that went through the same treatment, and no reading beyond the warmest of them.",
    )
