"""Faults of a table of mortar cubes: too few temperatures or ages, rows pasted twice, units that cannot be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.fitting.mortar_rates import N_PARAMETERS
from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, listed
from planner.terms.plan.mortar import MortarBreaks, MortarConstants

FEWEST_TEMPERATURES = 3
FEWEST_AGES = N_PARAMETERS + 1
LEAST_STEP_K = 2.0  # between two baths; nearer ones are readings of one (common practice, no source)
LEAST_SPAN_K = 10.0  # of all baths, below which scatter decides the slope (common practice, no source)
HOT_C = 45.0  # mortar is seldom cured warmer; a Fahrenheit reading of the curing room is (common practice, no source)
MOST_FALL = 0.15  # of a mean below an earlier one, where scatter may still explain it; common practice, no source
FEWEST_PASTED = 3  # rows running that repeat earlier ones in everything
SLOWEST_PER_D, FASTEST_PER_D = 0.04, 8.0  # rates of hardening, mean of all baths (common practice, no source)


def check_one_mortar(file: str, mixes: Sequence[str], findings: Findings) -> None:
    """Rates of two mixes tell nothing of how one hardens with temperature."""
    names = tuple(dict.fromkeys(mixes))
    if len(names) > 1:
        findings.problem(
            file,
            f"The cubes are of {len(names)} mixes ({listed(names)}); rates are compared between temperatures, so all "
            "must be of one. Keep the mortar of this concrete.",
            column="mix",
        )


def check_pasted_rows(file: str, breaks: MortarBreaks, row_numbers: Sequence[int], findings: Findings) -> None:
    """Rows running that say again what rows running have said: cubes counted twice look surer than they are."""
    rows = list(zip(breaks.age_h.tolist(), breaks.temperature_c.tolist(), breaks.strength_mpa.tolist(), strict=True))
    first = {row: at for at, row in reversed(list(enumerate(rows)))}
    run: list[int] = []
    for at, row in enumerate(rows):
        goes_on = bool(run) and first[row] == first[rows[run[-1]]] + 1
        if first[row] < at and (goes_on or not run):
            run.append(at)
            continue
        if len(run) >= FEWEST_PASTED:
            break
        run = [at] if first[row] < at else []
    if len(run) >= FEWEST_PASTED:
        again, before = (row_numbers[run[0]], row_numbers[run[-1]]), row_numbers[first[rows[run[0]]]]
        findings.problem(
            file,
            f"Rows {again[0]} to {again[1]} say again what stands from row {before} on. Delete what was pasted twice.",
            row=again[0],
        )


def check_cubes(file: str, breaks: MortarBreaks, findings: Findings) -> None:
    """Temperatures and ages enough for the lines, and strengths that grow."""
    temperatures = np.unique(breaks.temperature_c)
    steps = np.diff(temperatures)
    if steps.size and steps.min() < LEAST_STEP_K:
        at = int(np.argmin(steps))
        findings.problem(
            file,
            f"Cubes were cured at {temperatures[at]:g} C and at {temperatures[at + 1]:g} C, {steps[at]:.2g} K apart. "
            "Write for every cube the one temperature that its bath is kept at.",
        )
        return
    if len(temperatures) < FEWEST_TEMPERATURES:
        findings.problem(
            file,
            f"The cubes were cured at {listed(f'{t:g} C' for t in temperatures)}; a line through the rates needs at "
            f"least {FEWEST_TEMPERATURES} temperatures. Add cubes at others.",
        )
    elif temperatures[-1] - temperatures[0] < LEAST_SPAN_K:
        findings.problem(
            file,
            f"The cubes were cured at {temperatures[0]:g} to {temperatures[-1]:g} C, {np.ptp(temperatures):g} K apart "
            f"in all; below {LEAST_SPAN_K:g} K scatter decides. Add cubes at the coolest and warmest of the site.",
        )
    if temperatures[-1] > HOT_C:
        findings.caution(
            "mortar-cured-hot",
            f"{file}: cubes were cured at {temperatures[-1]:g} C. If that is Fahrenheit, head the column "
            "temperature_f; if it is not, the constants are those of heat treatment.",
        )
    for temperature in temperatures:
        _check_bath(file, breaks, float(temperature), findings)


def _check_bath(file: str, breaks: MortarBreaks, temperature_c: float, findings: Findings) -> None:
    is_here = breaks.temperature_c == temperature_c
    ages, where = np.unique(breaks.age_h[is_here], return_inverse=True)
    means = np.bincount(where, weights=breaks.strength_mpa[is_here]) / np.bincount(where)
    if len(ages) < FEWEST_AGES:
        findings.problem(
            file,
            f"At {temperature_c:g} C cubes were broken at {len(ages)} {'age' if len(ages) == 1 else 'ages'} "
            f"({listed(map(age_label, ages))}); the curve needs at least {FEWEST_AGES}. Add ages.",
        )
        return
    falls = np.flatnonzero(means[1:] < (1.0 - MOST_FALL) * np.maximum.accumulate(means)[:-1]) + 1
    if falls.size or means[-1] <= means[0]:
        at = int(falls[0]) if falls.size else len(ages) - 1
        before = int(np.argmax(means[:at]))
        findings.problem(
            file,
            f"At {temperature_c:g} C the strengths do not grow: {means[before]:.4g} MPa at "
            f"{age_label(float(ages[before]))}, {means[at]:.4g} MPa at {age_label(float(ages[at]))}. Correct the "
            "ages or the strengths.",
        )


def check_rates(file: str, found: MortarConstants, findings: Findings) -> None:
    """Rates that no mortar has, and a slope that may as well be none."""
    typical = float(np.exp(np.mean(np.log([rate.rate_per_d for rate in found.rates]))))
    if not SLOWEST_PER_D <= typical <= FASTEST_PER_D:
        half_h = 24.0 / typical
        findings.problem(
            file,
            f"By these ages the mortar has half its strength after {half_h:.3g} h on the mean of the baths. Correct "
            "the ages, or their unit in the heading.",
        )
    if found.q_k.least <= 0.0:
        findings.caution(
            "mortar-tells-no-q",
            f"{file}: the rates scatter too much to tell Q (95 %: {found.q_k.least:.0f} to {found.q_k.most:.0f} K). "
            "Look for exchanged cubes, and break more at the coolest and the warmest.",
        )
