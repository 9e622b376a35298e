"""Compiled fit of one batch by the shape prior: penalised Gauss-Newton in (ln tau, ln a), its strength profiled out."""

from __future__ import annotations

from math import exp

import numpy as np

from planner.compiled import njit

N_STEPS = 12  # of Gauss-Newton
N_HALVINGS = 6
LEAST_LOG_A, MOST_LOG_A = np.log(0.15), np.log(3.0)
SETTLED = 1e-10  # a step shorter than this ends the fit


@njit(cache=True, nogil=True, error_model="numpy")
def log_growth(log_maturity, log_tau, log_a):
    """Log of the degree of growth, and its derivatives by (ln tau, ln a)."""
    a = exp(log_a)
    behind = log_tau - log_maturity
    power = exp(min(max(a * behind, -50.0), 50.0))
    return -power, -a * power, -a * behind * power


@njit(cache=True, nogil=True, error_model="numpy")
def _loss(n, log_maturity, log_mean, weight, shape0, shape1, mean, penalty):
    """Penalised squares, log ultimate strength and weighted squares at one shape."""
    total = log_ultimate = square = 0.0
    for i in range(n):
        growth, _, _ = log_growth(log_maturity[i], shape0, shape1)
        total += weight[i]
        log_ultimate += weight[i] * (log_mean[i] - growth)
    log_ultimate /= total
    for i in range(n):
        growth, _, _ = log_growth(log_maturity[i], shape0, shape1)
        square += weight[i] * (log_mean[i] - log_ultimate - growth) ** 2
    d0, d1 = shape0 - mean[0], shape1 - mean[1]
    pulled = d0 * d0 * penalty[0, 0] + 2.0 * d0 * d1 * penalty[0, 1] + d1 * d1 * penalty[1, 1]
    return square + pulled, log_ultimate, square


@njit(cache=True, nogil=True, error_model="numpy")
def _curvature(n, log_maturity, log_mean, weight, shape0, shape1, log_ultimate, mean, penalty, rows):
    """Downhill direction and curvature of half the loss; `rows` takes the slopes less their weighted mean.

    Returns
    -------
    tuple
        Gradient (2), curvature (00, 01, 11), weighted mean slopes (2).
    """
    total = m0 = m1 = 0.0
    for i in range(n):
        _, rows[0, i], rows[1, i] = log_growth(log_maturity[i], shape0, shape1)
        total += weight[i]
        m0 += weight[i] * rows[0, i]
        m1 += weight[i] * rows[1, i]
    m0 /= total
    m1 /= total
    d0, d1 = shape0 - mean[0], shape1 - mean[1]
    g0 = -(d0 * penalty[0, 0] + d1 * penalty[0, 1])
    g1 = -(d0 * penalty[0, 1] + d1 * penalty[1, 1])
    c00, c01, c11 = penalty[0, 0], penalty[0, 1], penalty[1, 1]
    for i in range(n):
        growth, _, _ = log_growth(log_maturity[i], shape0, shape1)
        residual = log_mean[i] - log_ultimate - growth
        rows[0, i] -= m0
        rows[1, i] -= m1
        g0 += weight[i] * residual * rows[0, i]
        g1 += weight[i] * residual * rows[1, i]
        c00 += weight[i] * rows[0, i] * rows[0, i]
        c01 += weight[i] * rows[0, i] * rows[1, i]
        c11 += weight[i] * rows[1, i] * rows[1, i]
    return g0, g1, c00, c01, c11, m0, m1


@njit(cache=True, nogil=True, error_model="numpy")
def fit_one(n, log_maturity, log_mean, weight, start0, start1, mean, penalty, rows):
    """Fit one batch.

    Parameters
    ----------
    n
        Cells that are held, the first of the arrays.
    log_maturity, log_mean, weight
        Of every cell; the weight is one over its variance, ``(n_cells,)``.
    start0, start1, mean, penalty
        Where the fit begins, mean of (ln tau, ln a) and the inverse of their covariance, ``(2,)`` and ``(2, 2)``.
    rows
        Out: slopes of the log growth at the fit less their weighted means, ``(2, n_cells)``.

    Returns
    -------
    tuple
        ln tau, ln a, ln ultimate, weighted squares; covariance of the shape (00, 01, 11); weighted mean slopes (2).
    """
    shape0, shape1 = start0, start1
    loss, log_ultimate, square = _loss(n, log_maturity, log_mean, weight, shape0, shape1, mean, penalty)
    for _step in range(N_STEPS):
        g0, g1, c00, c01, c11, _m0, _m1 = _curvature(
            n, log_maturity, log_mean, weight, shape0, shape1, log_ultimate, mean, penalty, rows
        )
        determinant = c00 * c11 - c01 * c01
        step0 = (c11 * g0 - c01 * g1) / determinant
        step1 = (c00 * g1 - c01 * g0) / determinant
        share = 1.0
        for _halving in range(N_HALVINGS):
            tried0 = shape0 + share * step0
            tried1 = min(max(shape1 + share * step1, LEAST_LOG_A), MOST_LOG_A)
            tried, tried_ultimate, tried_square = _loss(
                n, log_maturity, log_mean, weight, tried0, tried1, mean, penalty
            )
            if tried <= loss:
                break
            share *= 0.5
        else:
            break
        moved = abs(tried0 - shape0) + abs(tried1 - shape1)
        shape0, shape1, loss, log_ultimate, square = tried0, tried1, tried, tried_ultimate, tried_square
        if moved < SETTLED:
            break
    _g0, _g1, c00, c01, c11, m0, m1 = _curvature(
        n, log_maturity, log_mean, weight, shape0, shape1, log_ultimate, mean, penalty, rows
    )
    determinant = c00 * c11 - c01 * c01
    return (
        shape0, shape1, log_ultimate, square, c11 / determinant, -c01 / determinant, c00 / determinant, m0, m1
    )  # fmt: skip
