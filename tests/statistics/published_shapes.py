"""The shape prior beside free fits on published mixes, each mix held out in turn."""

from __future__ import annotations

import numpy as np

from planner.fitting.single import fit_curve
from planner.mixed_model import ShapePrior, estimate_shape_prior, fit_shape
from planner.terms.arrays import FloatArray, IntArray
from tests.real_concrete.data import HOURS_PER_DAY, MixSet, mix_sets

FREE = ("exponential", "hyperbolic", "logarithmic")
N_FEW = 6  # mixes that a laboratory may have of its own
SEED = 77


def held_out_errors(mixes: MixSet) -> dict[float, dict[str, FloatArray]]:
    """Relative errors at every target, the target's own break left out of the fit, ``(n_mixes,)`` each."""
    ages_h = np.array(mixes.ages_h)
    mean = np.array([[record.mean_mpa(age) for age in mixes.ages_h] for record in mixes.records])
    learnt = [_learnt(ages_h, mean, b, None) for b in range(len(mean))]
    few = [_learnt(ages_h, mean, b, N_FEW) for b in range(len(mean))]
    results: dict[float, dict[str, FloatArray]] = {}
    for target_h in mixes.targets_h:
        at = int(np.flatnonzero(ages_h == target_h)[0])
        kept = np.delete(np.arange(len(ages_h)), at)
        errors: dict[str, list[float]] = {name: [] for name in (*FREE, "shape prior", "shape prior, 6 mixes")}
        for b, row in enumerate(mean):
            for curve in FREE:
                free = fit_curve(curve, ages_h[kept], row[kept], weighting="relative")
                errors[curve].append(float(free.predict([target_h])[0] / row[at] - 1.0))
            for name, prior in (("shape prior", learnt[b]), ("shape prior, 6 mixes", few[b])):
                read, _ = fit_shape(prior, ages_h[kept], row[kept], np.ones(len(kept))).read([target_h])
                errors[name].append(float(read[0] / row[at] - 1.0))
        results[target_h] = {name: np.array(values) for name, values in errors.items()}
    return results


def _learnt(ages_h: FloatArray, mean: FloatArray, held_out: int, n_told: int | None) -> ShapePrior:
    """Shapes of the other mixes, or of a few of them drawn by chance."""
    others: IntArray = np.delete(np.arange(len(mean)), held_out)
    if n_told is not None:
        others = np.random.default_rng((SEED, held_out)).permutation(others)[:n_told]
    maturity = np.tile(ages_h, (len(others), 1))
    return estimate_shape_prior(maturity, mean[others], np.ones(maturity.shape))


def shape_table() -> str:
    """RMS errors in Markdown."""
    names = (*FREE, "shape prior", "shape prior, 6 mixes")
    lines = [
        "Published mixes (Yeh 1998, UCI 165), RMS error against the measured mean, the target's break left out [%]"
    ]
    lines += [""]
    lines += ["| ages | mixes | target | " + " | ".join(names) + " |", "|---" * (3 + len(names)) + "|"]
    for mixes in mix_sets():
        for target_h, errors in held_out_errors(mixes).items():
            cells = [f"{100 * np.sqrt(np.mean(errors[name] ** 2)):.1f}" for name in names]
            days = f"{target_h / HOURS_PER_DAY:g} d"
            lines.append(f"| {mixes.name} | {len(mixes.records)} | {days} | " + " | ".join(cells) + " |")
    return "\n".join(lines)
