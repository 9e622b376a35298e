"""Stated chances of an alarm against simulated site checks: ``python -m tests.statistics.alarm_sequences``.

Sequences come from strengths, not from z, and share no code with the chances. Writes its section of ``RESULTS.md``.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from planner.issued_curve.rules.alarm_chances import chance_within, shared_part
from tests.statistics.results_file import write_section

N_SEQUENCES = 4000
CHECKS = (20, 40, 300)
TAU, CV, N_COMPANIONS = 0.08, 0.03, 3  # between batches, within a test
TITLE = f"""## Chances of an alarm of the site checks

{N_SEQUENCES:,} sequences a line: batches depart by 8 %, three companions of 3 % a check; the drop is one standard
deviation of a check. Stated / simulated share of curves withdrawn, with the standard error of the simulated one.
"""
HEAD = "| trial batches | concrete | " + " | ".join(f"within {n} checks" for n in CHECKS) + " |"


def simulated(n_curves: int | None, drop: float, seed: int) -> list[float]:
    """Share of curves withdrawn within 20, 40 and 300 checks, from strengths and not from z.

    A curve is the mean of its trial batches, every batch departs by 8 %, and each check has three companions of 3 %.
    Without trial batches the curve is exact and only the pours depart.
    """
    rng = np.random.default_rng(seed)
    offset = np.zeros(N_SEQUENCES)
    if n_curves is not None:
        offset = rng.normal(0, TAU, (N_SEQUENCES, n_curves)).mean(axis=1)
    later = TAU * np.sqrt(1 + (0 if n_curves is None else 1 / n_curves))
    sd = np.sqrt(later**2 + CV**2 / N_COMPANIONS)
    withdrawn_at = np.full(N_SEQUENCES, 10_000)
    for sequence in range(N_SEQUENCES):
        pours = rng.normal(0, TAU, 300) - offset[sequence] - drop * sd
        broken = pours + rng.normal(0, CV, (N_COMPANIONS, 300)).mean(axis=0)
        total, was_low = 0.0, False
        for check, z in enumerate(broken / sd, start=1):
            total = max(0.0, total - z - 0.5)
            is_low = z < -1.645
            if total > 4.0 or (is_low and was_low):
                withdrawn_at[sequence] = check
                break
            was_low = is_low
    return [float(np.mean(withdrawn_at <= n)) for n in CHECKS]


def stated(n_curves: int, drop: float) -> list[float]:
    """What the sheet says of the same curves."""
    later = TAU * sqrt(1 + 1 / n_curves)
    shared = shared_part(later_rms=later, n_curves=n_curves, within_test_cv=CV, n_companions=N_COMPANIONS)
    return [chance_within(n, shared=shared, drop=drop) for n in CHECKS]


def main() -> None:
    """Run the study, print its table and keep it."""
    rows = []
    for n_curves in (1, 2, 3):
        for drop, named in ((0.0, "sound"), (1.0, "weaker")):
            found = simulated(n_curves, drop, seed=10 * n_curves + int(drop) + 1)
            cells = [
                f"{said:.3f} / {share:.3f} ({sqrt(said * (1 - said) / N_SEQUENCES):.3f})"
                for said, share in zip(stated(n_curves, drop), found, strict=True)
            ]
            rows.append(f"| {n_curves} | {named} | {' | '.join(cells)} |")
    write_section("tests.statistics.alarm_sequences", "\n".join([TITLE, HEAD, "|" + "---|" * 5, *rows]))
    print("\n".join([HEAD, *rows]))


if __name__ == "__main__":
    main()
