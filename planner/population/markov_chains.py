"""Draws of a population given prior breaks: many short chains side by side, each ending in one draw.

Model, for one family: ln of a batch's mean at an age = the family with the batch's own parameters
+ a departure common to the mix + a departure of the batch + noise of its specimens. Parameters of batches
are normal about a mean with a covariance; mean, covariance and the sizes of both departures are drawn too.

References
----------
ter Braak 2006, Statistics and Computing 16:239, for steps along differences between chains.
Neal 1998, for steps that leave a normal prior unchanged.  (both from memory)
"""

from __future__ import annotations

import numpy as np

from planner.population.growth_families import Family
from planner.population.prior_breaks import PriorBreaks
from planner.population.shape_covariance import covariance_root, draw_mean, draw_precision_root
from planner.population.smooth_departure import correlation
from planner.terms.arrays import BoolArray, FloatArray, IntArray

# Sizes a departure may have, relative; their prior weights fall by e for each further 2 % (batch) and
# 3 % (mix). Common practice, no source.
BATCH_SIZES = np.array([0.005, 0.01, 0.02, 0.03, 0.045, 0.07])
MIX_SIZES = np.array([0.005, 0.015, 0.03, 0.05, 0.08])
BATCH_FALL, MIX_FALL = 0.02, 0.03
SCALE_BETWEEN_SD = 0.08  # usual spread of strength between batches of one mix; common practice, no source
SCALE_SD = 0.5  # of ln strength about the breaks' own mean: next to nothing is assumed
_N_STARTS = 40  # candidates for each chain's start
_START_CV = 0.10  # misfit that a start may have
_STEP_IN_PRIOR = 0.35


class Chains:
    """Chains of one family under way. Arrays lead with ``n_chains``."""

    def __init__(self, family: Family, breaks: PriorBreaks, *, n_chains: int, seed: tuple[int, ...]) -> None:
        self.family = family
        self.n_chains = n_chains
        self._generator = np.random.default_rng(seed)
        self._breaks = breaks
        self.known_h = breaks.typical_h()
        self.reference_h = float(self.known_h[breaks.held.any(axis=0)][-1])
        self._set_priors()
        self._set_covariances()
        self.batch_at = np.full(n_chains, 2)  # positions in the sizes
        self.mix_at = np.full(n_chains, 1)
        self.departure = np.zeros((n_chains, len(self.known_h)))  # common to the mix, at `known_h`
        self._start()

    def run(self, n_steps: int) -> None:
        """Move every chain on."""
        for step in range(n_steps):
            self._step_batches()
            self._step_within_prior()
            self._step_together()
            if step % 2 == 0:
                self._step_population()
            if step % 4 == 0:
                self._step_departures()

    @property
    def mix_size(self) -> FloatArray:
        """Size of the common departure, ``(n_chains,)``."""
        return np.asarray(MIX_SIZES[self.mix_at])

    @property
    def batch_size(self) -> FloatArray:
        """Size of the departure of batches, ``(n_chains,)``."""
        return np.asarray(BATCH_SIZES[self.batch_at])

    def smooth(self) -> FloatArray:
        """Family and common departure for every prior batch and tested age, ``(n_chains, n_batches, n_ages)``."""
        return self._law(self.parameters) + self.departure[:, None, :]

    def _set_priors(self) -> None:
        breaks, shapes = self._breaks, self.family.shapes
        last = [np.flatnonzero(row) for row in breaks.held]
        scale = np.mean([breaks.log_mean[b, at[-1]] for b, at in enumerate(last) if at.size])
        self._prior_mean = np.array([scale, *(shape.mean for shape in shapes)])
        self._prior_sd = np.array([SCALE_SD, *(shape.sd for shape in shapes)])
        self._usual_sd = np.array([SCALE_BETWEEN_SD, *(shape.between_sd for shape in shapes)])

    def _set_covariances(self) -> None:
        """Invert the covariance of departure and noise of each batch for each size, once."""
        smooth = correlation(self.known_h, self.known_h)
        noise = self._breaks.noise[:, :, None] * np.eye(len(self.known_h))
        covariance = BATCH_SIZES[:, None, None, None] ** 2 * smooth + noise
        self._inverse = np.linalg.inv(covariance)  # (n_sizes, n_batches, n_ages, n_ages)
        self._log_det = np.linalg.slogdet(covariance)[1].sum(axis=1)
        self._smooth_inverse = np.linalg.inv(smooth + 1e-6 * np.eye(len(self.known_h)))

    def _start(self) -> None:
        """Pick starts among draws of the prior by how well they fit the mean of the batches."""
        p, generator = self.family.n_parameters, self._generator
        held = self._breaks.held
        is_held = held.any(axis=0)
        mean = (self._breaks.log_mean * held).sum(axis=0)[is_held] / held.sum(axis=0)[is_held]
        drawn = generator.standard_normal((self.n_chains * _N_STARTS, p))
        candidates = self._prior_mean + self._prior_sd * drawn
        law = self.family.log_strength(self.known_h[is_held], candidates, reference_h=self.reference_h)
        misfit = mean - law
        offset = misfit.mean(axis=1)
        candidates[:, 0] += offset
        score = -0.5 * ((misfit - offset[:, None]) ** 2).sum(axis=1) / _START_CV**2
        kept = np.argsort(-(score + generator.gumbel(size=score.shape)))[: self.n_chains]
        self.mean = candidates[generator.permutation(kept)]
        self._set_precision(np.broadcast_to(np.diag(1.0 / self._usual_sd), (self.n_chains, p, p)).copy())
        shape = (self.n_chains, len(held), p)
        self.parameters = self.mean[:, None, :] + 0.5 * self._usual_sd * generator.standard_normal(shape)
        self._refresh()

    def _refresh(self) -> None:
        self._weight = self._inverse[self.batch_at]  # (n_chains, n_batches, n_ages, n_ages)
        self._fit = self._log_likelihood(self.parameters)

    def _law(self, parameters: FloatArray) -> FloatArray:
        return self.family.log_strength(self._breaks.maturity_h, parameters, reference_h=self.reference_h)

    def _log_likelihood(self, parameters: FloatArray) -> FloatArray:
        """Of each batch but for a constant, ``(n_chains, n_batches)``."""
        misfit = self._breaks.log_mean - self._law(parameters) - self.departure[:, None, :]
        weighed = (self._weight @ misfit[..., None])[..., 0]
        value = -0.5 * (misfit * weighed).sum(axis=-1)
        return np.where(np.isfinite(value), value, -1e30)

    def _log_prior(self, parameters: FloatArray) -> FloatArray:
        """Normal law of batches about the population mean, but for a constant, ``(n_chains, n_batches)``."""
        scaled = (parameters - self.mean[:, None, :]) @ self._precision_root
        return np.asarray(-0.5 * (scaled**2).sum(axis=-1))

    def _difference(self, values: FloatArray, jump: float) -> FloatArray:
        """Difference between two other chains, for every chain; now and then a whole one."""
        first = (np.arange(self.n_chains) + self._generator.integers(1, self.n_chains)) % self.n_chains
        second = self._generator.permutation(self.n_chains)
        size = 1.0 if self._generator.random() < 0.1 else jump
        return np.asarray(size * (values[first] - values[second]))

    def _step_batches(self) -> None:
        """Move each batch along the difference between two chains."""
        move = self._difference(self.parameters, 1.2 / np.sqrt(self.family.n_parameters))
        proposed = self.parameters + move
        fit = self._log_likelihood(proposed)
        gain = fit - self._fit + self._log_prior(proposed) - self._log_prior(self.parameters)
        self._accept(proposed, fit, self._is_taken(gain))

    def _step_within_prior(self) -> None:
        """Move each batch inside its normal law: for what the breaks hardly see."""
        centre = self.mean[:, None, :]
        noise = self._generator.standard_normal(self.parameters.shape) @ np.swapaxes(self.root, 1, 2)
        kept = np.sqrt(1.0 - _STEP_IN_PRIOR**2)
        proposed = centre + kept * (self.parameters - centre) + _STEP_IN_PRIOR * noise
        fit = self._log_likelihood(proposed)
        self._accept(proposed, fit, self._is_taken(fit - self._fit))

    def _step_together(self) -> None:
        """Move the mean and all batches alike: what the breaks hardly see would else creep."""
        move = self._difference(self.mean, 1.2 / np.sqrt(self.family.n_parameters))
        proposed = self.parameters + move[:, None, :]
        fit = self._log_likelihood(proposed)
        before = ((self.mean - self._prior_mean) / self._prior_sd) ** 2
        after = ((self.mean + move - self._prior_mean) / self._prior_sd) ** 2
        is_taken = self._is_taken((fit - self._fit).sum(axis=1) - 0.5 * (after - before).sum(axis=1))
        self.mean = np.where(is_taken[:, None], self.mean + move, self.mean)
        self._accept(proposed, fit, np.broadcast_to(is_taken[:, None], fit.shape))

    def _is_taken(self, gain: FloatArray) -> BoolArray:
        return np.asarray(np.log(self._generator.random(gain.shape)) < gain)

    def _accept(self, proposed: FloatArray, fit: FloatArray, is_taken: BoolArray) -> None:
        self.parameters = np.where(is_taken[..., None], proposed, self.parameters)
        self._fit = np.where(is_taken, fit, self._fit)

    def _step_population(self) -> None:
        """Draw covariance and mean given the batches."""
        deviation = self.parameters - self.mean[:, None, :]
        self._set_precision(draw_precision_root(deviation, self._usual_sd, self._generator))
        self.mean = draw_mean(self.parameters, self._precision_root, self._prior_mean, self._prior_sd, self._generator)

    def _set_precision(self, precision_root: FloatArray) -> None:
        self._precision_root = precision_root
        self.root = covariance_root(precision_root)  # of the covariance between batches

    def _step_departures(self) -> None:
        """Draw the departure common to the mix, then the sizes of both departures."""
        misfit = self._breaks.log_mean - self._law(self.parameters)
        precision = self._smooth_inverse / self.mix_size[:, None, None] ** 2 + self._weight.sum(axis=1)
        pulled = (self._weight @ misfit[..., None]).sum(axis=1)
        covariance = np.linalg.inv(precision)
        covariance = 0.5 * (covariance + np.swapaxes(covariance, 1, 2))
        noise = self._generator.standard_normal((*self.departure.shape, 1))
        self.departure = (covariance @ pulled + np.linalg.cholesky(covariance) @ noise)[..., 0]
        square = (self.departure * (self.departure @ self._smooth_inverse)).sum(axis=1)[:, None]
        n_ages = len(self.known_h)
        self.mix_at = self._draw_size(-n_ages * np.log(MIX_SIZES) - 0.5 * square / MIX_SIZES**2 - MIX_SIZES / MIX_FALL)
        left = (misfit - self.departure[:, None, :])[None, :, :, None, :]
        squares = (left @ self._inverse[:, None] @ np.swapaxes(left, -1, -2)).sum(axis=2)[:, :, 0, 0].T
        self.batch_at = self._draw_size(-0.5 * (self._log_det + squares) - BATCH_SIZES / BATCH_FALL)
        self._refresh()

    def _draw_size(self, score: FloatArray) -> IntArray:
        return np.asarray(np.argmax(score + self._generator.gumbel(size=score.shape), axis=1))
