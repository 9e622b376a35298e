"""Restricted likelihood of the spread between batches, compiled.

Every age has a mean of its own that is not known; what is left of the batches beside those means tells their
variances. Compiled, because every held-out batch asks for it again some dozen times.
"""

from __future__ import annotations

import numpy as np

from planner.compiled import njit

DIFFERENCE = 3e-4  # of a log standard deviation
MOST_STEPS, MOST_HALVINGS = 60, 20
SETTLED = 1e-8  # a step of the logarithms shorter than this ends the search


@njit(cache=True)
def add_batch(noise, is_held, slope, residual, variances, weight, information, total):
    """Add what one batch says of the age means, to the lower half of `information` and to `total`.

    ``V = H diag(scale, rate) H' + diag(departure + noise)`` with rows ``(1, slope)``, by Woodbury's identity, without a
    matrix of its own. Ages that were not broken add nothing; `weight` is written over.

    Returns
    -------
    log_determinant, square
        Of ``V``, and of the residuals weighted by its inverse.
    """
    n_ages = noise.shape[0]
    scale, rate, departure = variances
    log_determinant = 0.0
    j00, j01, j11, r0, r1 = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n_ages):
        weight[i] = 0.0
        if is_held[i]:
            log_determinant += np.log(departure + noise[i])
            weight[i] = 1.0 / (departure + noise[i])
            j00 += weight[i]
            j01 += weight[i] * slope[i]
            j11 += weight[i] * slope[i] * slope[i]
            r0 += weight[i] * residual[i]
            r1 += weight[i] * slope[i] * residual[i]
    c00, c11 = j00 + 1.0 / scale, j11 + 1.0 / rate
    determinant = c00 * c11 - j01 * j01
    log_determinant += np.log(determinant) + np.log(scale) + np.log(rate)
    square = 0.0
    for i in range(n_ages):
        if weight[i] == 0.0:
            continue
        left0 = weight[i] * (c11 - slope[i] * j01) / determinant
        left1 = weight[i] * (slope[i] * c00 - j01) / determinant
        for j in range(i + 1):
            information[i, j] -= (left0 + left1 * slope[j]) * weight[j]
        information[i, i] += weight[i]
        weighted = weight[i] * residual[i] - left0 * r0 - left1 * r1
        total[i] += weighted
        square += residual[i] * weighted
    return log_determinant, square


@njit(cache=True)
def solve_in_place(matrix, right):
    """Solve with the lower half of a positive definite matrix, both overwritten; the logarithm of its determinant."""
    n = right.shape[0]
    log_determinant = 0.0
    for i in range(n):
        for j in range(i + 1):
            left = matrix[i, j]
            for k in range(j):
                left -= matrix[i, k] * matrix[j, k]
            matrix[i, j] = left / matrix[j, j] if j < i else np.sqrt(left)
        log_determinant += 2.0 * np.log(matrix[i, i])
        for k in range(i):
            right[i] -= matrix[i, k] * right[k]
        right[i] /= matrix[i, i]
    for i in range(n - 1, -1, -1):
        for k in range(i + 1, n):
            right[i] -= matrix[k, i] * right[k]
        right[i] /= matrix[i, i]
    return log_determinant


@njit(cache=True)
def minus_twice_log_likelihood(log_sd, residual, noise, is_held, slope):
    """Minus twice the restricted log likelihood, and the means of the residuals by generalised least squares.

    Arrays are ``(n_batches, n_ages)``; `log_sd` holds the logarithms of the standard deviations of scale, rate
    and departure.
    """
    n_ages = residual.shape[1]
    variances = (np.exp(2.0 * log_sd[0]), np.exp(2.0 * log_sd[1]), np.exp(2.0 * log_sd[2]))
    weight, information, mean = np.empty(n_ages), np.zeros((n_ages, n_ages)), np.zeros(n_ages)
    twice = 0.0
    for b in range(residual.shape[0]):
        log_determinant, square = add_batch(
            noise[b], is_held[b], slope[b], residual[b], variances, weight, information, mean
        )
        twice += log_determinant + square
    total = mean.copy()
    twice += solve_in_place(information, mean)
    for i in range(n_ages):
        twice -= total[i] * mean[i]
    return twice, mean


@njit(cache=True)
def penalised_objective_at(log_sd, residual, noise, is_held, slope, log_medians, width):
    """Minus the logarithm of restricted likelihood times log-normal densities of the spreads, up to a constant."""
    twice, _ = minus_twice_log_likelihood(log_sd, residual, noise, is_held, slope)
    return 0.5 * (twice + np.sum(((log_sd - log_medians) / width) ** 2))


@njit(cache=True)
def penalised_minimum(start, residual, noise, is_held, slope, log_medians, width):
    """Where that is least: Newton's steps with differences, held back where the objective is not convex or rises.

    Parameters
    ----------
    start, log_medians, width
        Where to begin, medians of the spreads as logarithms, ``(3,)`` each, and the standard deviation of their
        logarithms.
    """
    n = start.shape[0]
    at, eye = start.copy(), np.eye(n)
    value = penalised_objective_at(at, residual, noise, is_held, slope, log_medians, width)
    ahead, gradient, curvature = np.empty(n), np.empty(n), np.empty((n, n))
    for _ in range(MOST_STEPS):
        for i in range(n):
            ahead[i] = penalised_objective_at(
                at + DIFFERENCE * eye[i], residual, noise, is_held, slope, log_medians, width
            )
            behind = penalised_objective_at(
                at - DIFFERENCE * eye[i], residual, noise, is_held, slope, log_medians, width
            )
            gradient[i] = (ahead[i] - behind) / (2.0 * DIFFERENCE)
            curvature[i, i] = (ahead[i] - 2.0 * value + behind) / DIFFERENCE**2
        for i in range(n):
            for j in range(i):
                both = penalised_objective_at(
                    at + DIFFERENCE * (eye[i] + eye[j]), residual, noise, is_held, slope, log_medians, width
                )
                curvature[i, j] = curvature[j, i] = (both - ahead[i] - ahead[j] + value) / DIFFERENCE**2
        lift = max(0.0, 0.1 - np.linalg.eigvalsh(curvature)[0])
        for i in range(n):
            curvature[i, i] += lift
        step = -gradient
        solve_in_place(curvature, step)
        step /= max(1.0, np.abs(step).max())
        share = 1.0
        for _ in range(MOST_HALVINGS):
            tried = penalised_objective_at(at + share * step, residual, noise, is_held, slope, log_medians, width)
            if tried <= value:
                break
            share *= 0.5
        else:
            break
        at, value = at + share * step, tried
        if share * np.abs(step).max() < SETTLED:
            break
    return at
