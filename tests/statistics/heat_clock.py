"""What maturity functions are worth under heat treatment: ``python -m tests.statistics.heat_clock``.

An invented concrete whose growth follows equivalent age with Q 5000 K exactly, calibrated at 20 C without scatter, is
heat-treated, and read by each function and constant: what is off is the clock alone.
"""

from __future__ import annotations

import numpy as np

from planner.maturity.break_maturity import maturity_at
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from tests.statistics.results_file import write_section

TRUE = MaturitySetting("equivalent age", 5000.0, 20.0)
READ_BY = (
    *(MaturitySetting("equivalent age", q, 20.0) for q in (4000.0, 4500.0, 5500.0, 6000.0)),
    *(MaturitySetting("temperature-time", datum, 20.0) for datum in (-10.0, -5.0, 0.0, 5.0, 10.0)),
)
HELD_C = (20.0, 40.0, 60.0, 75.0, 90.0)
PRESET_H, RISE_K_PER_H = 4.0, 15.0
ULTIMATE_MPA, HALF_H, OFFSET_H = 60.0, 24.0, 3.0  # hyperbola in true equivalent age
WANTED_MPA = 30.0
TITLE = """## Maturity functions under heat treatment

`python -m tests.statistics.heat_clock`: reading over truth less 1 when the concrete has {wanted:g} MPa, in percent;
4 h at 20 C, 15 K/h up to the temperature, then held. The concrete follows equivalent age with Q 5000 K and is
calibrated at 20 C.
"""


def strength_mpa(equivalent_h: FloatArray) -> FloatArray:
    """The invented concrete."""
    since = np.maximum(equivalent_h - OFFSET_H, 0.0)
    return ULTIMATE_MPA * since / (since + HALF_H)


def treatment(held_c: float) -> tuple[FloatArray, FloatArray]:
    """Hours and degrees C."""
    elapsed = np.arange(0.0, 200.0, 0.25)
    return elapsed, np.clip(20.0 + RISE_K_PER_H * (elapsed - PRESET_H), 20.0, held_c)


def over_reading(held_c: float, setting: MaturitySetting) -> float:
    """Reading over truth less 1 at the time at which the truth is there."""
    elapsed, degrees = treatment(held_c)
    true = maturity_at(elapsed, elapsed, degrees, TRUE, continued_c=None)
    at_h = float(np.interp(WANTED_MPA, strength_mpa(true), elapsed))
    found = maturity_at(np.array([at_h]), elapsed, degrees, setting, continued_c=None)
    return float(strength_mpa(found)[0]) / WANTED_MPA - 1.0


def main() -> None:
    """Print the table and keep it."""
    head = "| read by | " + " | ".join(f"{held:g} C" for held in HELD_C) + " |"
    rows = [
        f"| {setting} | " + " | ".join(f"{100 * over_reading(held, setting):+.0f}" for held in HELD_C) + " |"
        for setting in READ_BY
    ]
    table = [TITLE.format(wanted=WANTED_MPA), head, "|" + "---|" * (len(HELD_C) + 1), *rows]
    write_section("tests.statistics.heat_clock", "\n".join(table))
    print("\n".join(table))


if __name__ == "__main__":
    main()
