"""Restricted likelihood of the spread between batches, compiled.

Every age has a mean of its own that is not known; what is left of the batches beside those means tells their
variances. Compiled, because every held-out batch asks for it again some dozen times.
"""

from __future__ import annotations

import numpy as np

from planner.compiled import njit


@njit(cache=True)
def batch_precision(noise, is_held, slope, variances):
    """Inverse covariance of the log means of one batch, and the logarithm of its determinant.

    ``V = H diag(scale, rate) H' + diag(departure + noise)`` with rows ``(1, slope)``, by Woodbury's identity;
    rows of ages that were not broken stay zero.
    """
    n_ages = noise.shape[0]
    scale, rate, departure = variances
    weight = np.zeros(n_ages)
    log_determinant = 0.0
    j00, j01, j11 = 0.0, 0.0, 0.0
    for i in range(n_ages):
        if is_held[i]:
            total = departure + noise[i]
            weight[i] = 1.0 / total
            log_determinant += np.log(total)
            j00 += weight[i]
            j01 += weight[i] * slope[i]
            j11 += weight[i] * slope[i] * slope[i]
    c00, c11 = j00 + 1.0 / scale, j11 + 1.0 / rate
    determinant = c00 * c11 - j01 * j01
    log_determinant += np.log(determinant) + np.log(scale) + np.log(rate)
    precision = np.zeros((n_ages, n_ages))
    for i in range(n_ages):
        if weight[i] == 0.0:
            continue
        left0 = weight[i] * (c11 - slope[i] * j01) / determinant
        left1 = weight[i] * (slope[i] * c00 - j01) / determinant
        for j in range(n_ages):
            precision[i, j] = -(left0 + left1 * slope[j]) * weight[j]
        precision[i, i] += weight[i]
    return precision, log_determinant


@njit(cache=True)
def minus_twice_log_likelihood(log_sd, residual, noise, is_held, slope):
    """Minus twice the restricted log likelihood, and the means of the residuals by generalised least squares.

    Arrays are ``(n_batches, n_ages)``; `log_sd` holds the logarithms of the standard deviations of scale, rate
    and departure.
    """
    n_batches, n_ages = residual.shape
    variances = np.exp(2.0 * log_sd)
    information = np.zeros((n_ages, n_ages))
    total = np.zeros(n_ages)
    square = 0.0
    log_determinants = 0.0
    for b in range(n_batches):
        precision, log_determinant = batch_precision(noise[b], is_held[b], slope[b], variances)
        weighted = precision @ residual[b]
        information += precision
        total += weighted
        square += residual[b] @ weighted
        log_determinants += log_determinant
    factor = np.linalg.cholesky(information)
    log_information = 0.0
    for i in range(n_ages):
        log_information += 2.0 * np.log(factor[i, i])
    mean = np.linalg.solve(information, total)
    return log_determinants + log_information + square - total @ mean, mean
