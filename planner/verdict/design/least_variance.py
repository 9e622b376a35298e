"""The least variance that any placement of the same specimens could have, with a certificate.

It speaks of where specimens go and of nothing else: what a curve cannot follow and what differs between
batches stays. An age i tells ``F_i = f_i / (sigma_i sqrt(kappa_i))`` about the curve for one unit of budget
spent there: f_i the derivatives of the strength by the parameters, sigma_i the scatter of one specimen,
kappa_i its cost (1 when specimens are counted). The strength at the target has derivatives c; divided by that
strength they give relative variances, which alone may be averaged over batches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import FloatArray

SINGULAR = 1e-9  # directions below this share of the strongest tell nothing in double precision
SMALLEST_WEIGHT = 1e-9  # keeps the information invertible where an optimum leaves ages unused
MOST_STEPS = 20_000  # of the multiplicative algorithm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeastVariance:
    """The best placement found for a budget, and how good it is for certain."""

    variance: float  # of the prediction at the target with these weights
    weights: FloatArray  # share of the budget at each age, shape (n_ages,), sums to 1
    certified: float  # 0 to 1: no placement has less than this share of `variance`
    budget: float  # specimens, or money

    @property
    def bound(self) -> float:
        """What no placement of this budget can go below."""
        return self.variance * self.certified


@dataclass(frozen=True, slots=True)
class _Whitened:
    """The same problem with all ages in equal parts telling 1 in every direction."""

    rows: FloatArray  # shape (n_batches, n_ages, n_parameters); zero columns where a batch has fewer directions
    aim: FloatArray  # unit vectors, shape (n_batches, n_parameters)
    scale: FloatArray  # variances are scale times those of the unit aim, shape (n_batches,)


def least_variance(sensitivity: FloatArray, gradient: FloatArray, *, budget: float) -> LeastVariance | None:
    """Least variance in one batch: ``rho^2 / budget``, rho the least ``sum |z_i|`` with ``sum z_i F_i = c``.

    The weights are ``|z_i| / rho``. A linear programme, certified by its dual: ``c'h`` with all ``|F_i'h| <=
    1``.

    Parameters
    ----------
    sensitivity
        F, one row per age, shape ``(n_ages, n_parameters)``.
    gradient
        c, shape ``(n_parameters,)``.
    budget
        Specimens, or money where F is for a unit of money; above 0.

    Returns
    -------
    None where all ages together do not determine the target within double precision: columns of F are
    dependent, or nearly so, in a direction that the target asks for.

    References
    ----------
    Elfving 1952, Annals of Mathematical Statistics 23:255; Harman and Jurik 2008, Computational Statistics
    and Data Analysis 53:247 (from memory).
    """
    from scipy.optimize import linprog

    whitened = _whitened(*_checked(sensitivity, gradient, budget))
    if whitened is None:
        return None
    rows, aim = whitened.rows[0], whitened.aim[0]
    solution = linprog(
        np.ones(2 * rows.shape[0]),
        A_eq=np.hstack((rows.T, -rows.T)),
        b_eq=aim,
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    if solution.status != 0 or solution.x is None:
        return None
    placed = solution.x[: rows.shape[0]] + solution.x[rows.shape[0] :]
    rho = float(np.sum(placed))
    dual = np.asarray(solution.eqlin.marginals, dtype=np.float64)
    # a dual that oversteps its bounds by a rounding still proves a little less
    proven = float(dual @ aim) / max(1.0, float(np.abs(rows @ dual).max()))
    return LeastVariance(
        variance=float(whitened.scale[0]) * rho**2 / budget,
        weights=placed / rho,
        certified=min(1.0, (proven / rho) ** 2),
        budget=budget,
    )


def least_mean_variance(
    sensitivities: FloatArray,
    gradients: FloatArray,
    *,
    budget: float,
    model_weights: FloatArray | None = None,
    wanted: float = 0.9999,
) -> LeastVariance | None:
    """Least variance averaged over batches (or targets): the multiplicative algorithm.

    ``Phi(w) = sum_m p_m c_m' M_m^-1 c_m``, with ``phi_i = sum_m p_m (c_m' M_m^-1 F_im)^2 / Phi`` every step
    multiplies w by ``sqrt(phi)``. 1 / Phi is concave in w and doubles with it, so no placement is below ``Phi
    / max phi``.

    Parameters
    ----------
    sensitivities
        F of every batch, shape ``(n_batches, n_ages, n_parameters)``.
    gradients
        c of every batch, shape ``(n_batches, n_parameters)``; divided by the strength at the target.
    budget
        Specimens, or money; above 0.
    model_weights
        Weights p of the batches, any positive scale, shape ``(n_batches,)``; equal by default.
    wanted
        Certified share at which the steps end; they end after 20,000 in any case.

    Returns
    -------
    None where some batch's ages do not determine its target.
    """
    sensitivities, gradients = _checked(sensitivities, gradients, budget)
    whitened = _whitened(sensitivities, gradients)
    if whitened is None:
        return None
    strain = whitened.scale * _normalised(model_weights, gradients.shape[0])
    # directions that a batch does not have get an information of their own, which its aim does not ask for
    spare = np.array([np.diag((np.abs(rows).sum(axis=0) == 0.0).astype(np.float64)) for rows in whitened.rows])
    weights = np.full(sensitivities.shape[1], 1.0 / sensitivities.shape[1])
    phi, total = _phi(whitened, strain, spare, weights)
    for _ in range(MOST_STEPS):
        if phi.max() * wanted <= 1.0:
            break
        weights = np.maximum(weights * np.sqrt(phi), SMALLEST_WEIGHT)
        weights /= np.sum(weights)
        phi, total = _phi(whitened, strain, spare, weights)
    return LeastVariance(
        variance=total / budget,
        weights=weights,
        certified=min(1.0, 1.0 / float(phi.max())),
        budget=budget,
    )


def mean_variance(
    weights: FloatArray,
    sensitivities: FloatArray,
    gradients: FloatArray,
    *,
    budget: float,
    model_weights: FloatArray | None = None,
) -> float:
    """Variance at the target, averaged over batches, of a budget spent in these proportions.

    Parameters
    ----------
    weights
        Any positive scale, 0 at unused ages, shape ``(n_ages,)``: specimens, or specimens times cost.
    sensitivities, gradients, model_weights
        As in `least_mean_variance`; one batch may come without its first axis.

    Returns
    -------
    Infinity where these ages do not determine the target of some batch.
    """
    sensitivities, gradients = _checked(sensitivities, gradients, budget)
    proportions = _normalised(weights, sensitivities.shape[1], may_be_zero=True)
    whitened = _whitened(sensitivities, gradients)
    if whitened is None:
        return float("inf")
    found = np.sqrt(proportions)[:, None] * whitened.rows
    _, strength, right = np.linalg.svd(found, full_matrices=False)
    is_told = strength > SINGULAR * strength[:, :1]
    along = np.where(is_told, np.einsum("mkp,mp->mk", right, whitened.aim), 0.0)
    left_over = whitened.aim - np.einsum("mk,mkp->mp", along, right)
    if np.any(np.linalg.norm(left_over, axis=1) > 1e-6):
        return float("inf")
    # the shortest solution: its squared length is aim' M^-1 aim, also where M has no inverse
    lengths = np.sum((along / np.where(is_told, strength, np.inf)) ** 2, axis=1)
    total = float(np.sum(_normalised(model_weights, len(gradients)) * whitened.scale * lengths))
    return total / budget


def efficiency(
    weights: FloatArray,
    sensitivities: FloatArray,
    gradients: FloatArray,
    *,
    limit: LeastVariance,
    model_weights: FloatArray | None = None,
) -> float:
    """Share of a budget that the best placement would need for the variance of this one; 0 where it has none.

    Never above 1: it is taken to what `limit` proves, not to the best placement found.
    """
    own = mean_variance(weights, sensitivities, gradients, budget=limit.budget, model_weights=model_weights)
    return min(1.0, limit.bound / own)


def _phi(whitened: _Whitened, strain: FloatArray, spare: FloatArray, weights: FloatArray) -> tuple[FloatArray, float]:
    """How much each age would gain from more weight (mean 1 under the weights), and Phi."""
    rows = whitened.rows
    information = np.swapaxes(rows, 1, 2) @ (weights[:, None] * rows) + spare
    inverse_aim = np.linalg.solve(information, whitened.aim[:, :, None])[:, :, 0]
    total = float(np.sum(strain * np.sum(inverse_aim * whitened.aim, axis=1)))
    return strain @ np.einsum("mip,mp->mi", rows, inverse_aim) ** 2 / total, total


def _whitened(sensitivities: FloatArray, gradients: FloatArray) -> _Whitened | None:
    """Every batch in its own orthogonal directions; None where a target lies outside them."""
    n_ages = sensitivities.shape[1]
    lengths = np.linalg.norm(sensitivities, axis=1)
    lengths[lengths == 0.0] = 1.0
    left, strength, right = np.linalg.svd(sensitivities / lengths[:, None, :], full_matrices=False)
    is_told = strength > SINGULAR * strength[:, :1]
    asked = gradients / lengths
    along = np.where(is_told, np.einsum("mkp,mp->mk", right, asked), 0.0)
    left_over = asked - np.einsum("mk,mkp->mp", along, right)
    # what the told directions leave of the target must be rounding
    if np.any(np.linalg.norm(left_over, axis=1) > SINGULAR * np.linalg.norm(asked, axis=1)):
        return None
    rows, aim = np.zeros_like(sensitivities), np.zeros_like(gradients)
    n_told = strength.shape[1]
    rows[:, :, :n_told] = np.where(is_told[:, None, :], left, 0.0) * np.sqrt(n_ages)
    aim[:, :n_told] = along / np.where(is_told, strength, np.inf) * np.sqrt(n_ages)
    length = np.linalg.norm(aim, axis=1)
    return _Whitened(rows, aim / length[:, None], length**2)


def _checked(sensitivities: FloatArray, gradients: FloatArray, budget: float) -> tuple[FloatArray, FloatArray]:
    """Both with a first axis over batches, or a ValueError that says what does not fit."""
    stack = sensitivities[None] if sensitivities.ndim == 2 else sensitivities
    aims = gradients[None] if gradients.ndim == 1 else gradients
    if stack.ndim != 3 or 0 in stack.shape or aims.shape != (stack.shape[0], stack.shape[2]):
        raise ValueError(
            "Needed are sensitivities (n_batches, n_ages, n_parameters) and gradients "
            f"(n_batches, n_parameters), given {sensitivities.shape} and {gradients.shape}."
        )
    wrong = []
    if not (np.all(np.isfinite(stack)) and np.all(np.isfinite(aims))):
        wrong.append("sensitivities and gradients must be finite")
    elif not np.all(np.any(aims != 0.0, axis=1)):
        wrong.append("every target must depend on its curve, but a gradient is all zero")
    if not budget > 0.0:
        wrong.append(f"the budget must be above 0, given {budget}")
    if wrong:
        raise ValueError("No limit can be found: " + "; ".join(wrong) + ".")
    return stack, aims


def _normalised(weights: FloatArray | None, n_expected: int, *, may_be_zero: bool = False) -> FloatArray:
    """Weights that sum to 1, equal ones for None."""
    if weights is None:
        return np.full(n_expected, 1.0 / n_expected)
    values = np.asarray(weights, dtype=np.float64)
    is_right = np.all(values >= 0.0) if may_be_zero else np.all(values > 0.0)
    if values.shape != (n_expected,) or not is_right or not 0.0 < np.sum(values) < np.inf:
        raise ValueError(f"{n_expected} weights above 0 are needed, given {values.tolist()}.")
    return np.asarray(values / np.sum(values), dtype=np.float64)
