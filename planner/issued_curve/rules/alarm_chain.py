"""The lasting rule as a Markov chain: CUSUM, and whether the last check was low.

One check with downward departure d moves the CUSUM from c to ``max(0, c + d - slack)``; the curve is withdrawn above
the limit or at the second low check running. What survives is integrated by Gauss-Legendre rules between the places
where it bends, and interpolated by polynomials on the same pieces: no draws, no grid of cells.

References
----------
Page 1954, Biometrika 41:100, for the one-sided CUSUM; Brook and Evans 1972, Biometrika 59:539, for its run length as
a Markov chain (there with cells in place of the continuous state).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy.interpolate import BarycentricInterpolator
from scipy.special import ndtr

from planner.issued_curve.rules.rule_limits import CUSUM_LIMIT, CUSUM_SLACK, LOW_Z
from planner.terms.arrays import BoolArray, FloatArray

N_NODES = 10  # on each piece: with 20 the figures are the same to nine digits, up to nine tenths of the variance shared
LOW_STEP = -LOW_Z - CUSUM_SLACK  # least rise of the CUSUM at a low check


def survivals(n_checks: int, *, shifts: FloatArray, scale: float) -> Iterator[FloatArray]:
    """Chance that new curves come through one, two and more checks without an alarm, each ``(n_shifts,)``.

    Parameters
    ----------
    n_checks
        Number of checks, 0 or more.
    shifts, scale
        Mean of one check's downward departure, for each curve, and its standard deviation, in standard deviations of a
        check; departures are normal and independent. The scale is above 0.
    """
    after_other, after_low = map(np.stack, zip(*(_step(float(shift), scale) for shift in shifts), strict=True))
    alive = after_a_low = np.ones((*after_other.shape[:2], 1))
    for _ in range(n_checks):
        kept = after_other @ alive
        alive, after_a_low = kept + after_low @ after_a_low, kept  # after a low check a second one is the alarm
        yield alive[:, 0, 0]


@cache
def mean_run_length(*, shift: float, scale: float = 1.0) -> float:
    """Mean number of checks until the alarm of a new curve; arguments as in :func:`survivals`."""
    after_other, after_low = _step(shift, scale)
    step = np.block([[after_other, after_low], [after_other, np.zeros_like(after_low)]])
    return float(np.linalg.solve(np.eye(len(step)) - step, np.ones(len(step)))[0])


def _step(shift: float, scale: float) -> tuple[FloatArray, FloatArray]:
    """What one check does to the survivors at every node where it is not low, and where it is."""
    nodes, points, is_low, weighted = _geometry()
    rise = points - nodes[:, None] + CUSUM_SLACK
    density = np.exp(-0.5 * ((rise - shift) / scale) ** 2) / (scale * np.sqrt(2.0 * np.pi))
    after_other = np.einsum("ij,ijk->ik", np.where(is_low, 0.0, density), weighted)
    after_low = np.einsum("ij,ijk->ik", np.where(is_low, density, 0.0), weighted)
    after_other[:, 0] += ndtr((CUSUM_SLACK - nodes - shift) / scale)  # back to zero
    return after_other, after_low


@cache
def _geometry() -> tuple[FloatArray, FloatArray, BoolArray, FloatArray]:
    """Nodes of the CUSUM, and where and how the kernel is integrated from each of them.

    Returns
    -------
    nodes ``(n,)``, the first of them zero; points ``(n, p)`` that one check may lead to; whether the check was then
    low ``(n, p)``; integration weights times interpolation from the nodes ``(n, p, n)``.
    """
    at, share = leggauss(N_NODES)
    pieces = _pieces()
    spans = np.diff(pieces)
    inner = (pieces[:-1, None] + 0.5 * spans[:, None] * (at + 1.0)).ravel()
    nodes = np.concatenate([[0.0], inner])
    turns = np.minimum(nodes + LOW_STEP, CUSUM_LIMIT)  # above it the check was low
    edges = np.sort(np.concatenate([np.broadcast_to(pieces, (nodes.size, pieces.size)), turns[:, None]], axis=1))
    widths = np.diff(edges, axis=1)
    points = (edges[:, :-1, None] + 0.5 * widths[:, :, None] * (at + 1.0)).reshape(nodes.size, -1)
    weights = (0.5 * widths[:, :, None] * share).reshape(nodes.size, -1)
    reading = _interpolation(points.ravel(), nodes, pieces).reshape(*points.shape, nodes.size)
    return nodes, points, points > turns[:, None], weights[:, :, None] * reading


def _pieces() -> FloatArray:
    """Edges between which the survivors are smooth: the limit, one low step below it, two below, and so on."""
    below = np.arange(CUSUM_LIMIT, 0.0, -LOW_STEP)
    return np.concatenate([[0.0], below[::-1]])


def _interpolation(points: FloatArray, nodes: FloatArray, pieces: FloatArray) -> FloatArray:
    """Matrix that reads values at the points from values at the nodes, piece by piece, ``(n_points, n_nodes)``."""
    matrix = np.zeros((points.size, nodes.size))
    piece_of = np.clip(np.searchsorted(pieces, points, side="right") - 1, 0, pieces.size - 2)
    for piece in range(pieces.size - 1):
        columns = slice(1 + piece * N_NODES, 1 + (piece + 1) * N_NODES)
        is_inside = piece_of == piece
        matrix[is_inside, columns] = BarycentricInterpolator(nodes[columns], np.eye(N_NODES))(points[is_inside])
    return matrix
