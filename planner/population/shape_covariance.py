"""Mean and spread of growth parameters between batches, drawn given the parameters of a few batches.

Three batches say next to nothing of a covariance of four parameters. It is shrunk towards the usual spread
between batches of one mix, which counts as much as `PRIOR_WEIGHT` batches, and drawn, not estimated.
"""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray

PRIOR_WEIGHT = 4.0  # batches that the usual spread is worth; common practice, no source


def draw_precision_root(deviation: FloatArray, usual_sd: FloatArray, generator: np.random.Generator) -> FloatArray:
    """Draw roots R of precisions ``R R'`` from their Wishart law given deviations from the mean.

    Parameters
    ----------
    deviation
        Of each batch from the population mean, ``(n_chains, n_batches, p)``; no batches: from the prior.
    usual_sd
        Usual spread of each parameter between batches, ``(p,)``: the mean of the prior covariance.

    Returns
    -------
    FloatArray
        Shape ``(n_chains, p, p)``, not triangular.
    """
    n_chains, n_batches, p = deviation.shape
    scale = np.diag(PRIOR_WEIGHT * usual_sd**2) + np.swapaxes(deviation, 1, 2) @ deviation
    degrees = p + 1 + PRIOR_WEIGHT + n_batches
    # Bartlett: with A lower triangular as below and T T' the inverse of the scale, T A A' T' is the draw.
    rows = np.arange(p)
    inner = np.tril(generator.standard_normal((n_chains, p, p)), -1)
    inner[:, rows, rows] = np.sqrt(generator.chisquare(degrees - rows, (n_chains, p)))
    return np.asarray(np.linalg.solve(np.swapaxes(np.linalg.cholesky(scale), 1, 2), inner))


def covariance_root(precision_root: FloatArray) -> FloatArray:
    """Root of the covariance that belongs to a root of the precision; shape kept, not triangular."""
    return np.swapaxes(np.linalg.inv(precision_root), 1, 2)


def draw_mean(
    parameters: FloatArray,
    precision_root: FloatArray,
    prior_mean: FloatArray,
    prior_sd: FloatArray,
    generator: np.random.Generator,
) -> FloatArray:
    """Draw population means given the parameters of the batches and their precision.

    Parameters
    ----------
    parameters
        Shape ``(n_chains, n_batches, p)``.
    precision_root
        Shape ``(n_chains, p, p)``.
    prior_mean, prior_sd
        Shape ``(p,)``.

    Returns
    -------
    FloatArray
        Shape ``(n_chains, p)``.
    """
    n_chains, n_batches, p = parameters.shape
    precision = precision_root @ np.swapaxes(precision_root, 1, 2)
    total = n_batches * precision + np.diag(1.0 / prior_sd**2)
    pulled = precision @ parameters.sum(axis=1)[..., None] + (prior_mean / prior_sd**2)[:, None]
    inverse_root = np.linalg.inv(np.linalg.cholesky(total))
    drawn = inverse_root @ pulled + generator.standard_normal((n_chains, p, 1))
    return np.asarray((np.swapaxes(inverse_root, 1, 2) @ drawn)[..., 0])
