"""The choosing rule: lowest mean loss, what ties with it, and the cheapest of those.

The rule sees the loss of every joint choice in the units it is given and nothing else, so that it can be
repeated without a unit, in every resampled world, or among fewer choices, and is the same rule each time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling import ErrorMatrix
from planner.resampling.errors.arithmetic import FEWEST_SHARED, FEWEST_TO_FOLD, fill_holes, mean_where
from planner.resampling.search.dominance import undominated
from planner.resampling.search.learnt_rows import LearntRows
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray, SingleArray
from planner.verdict.selection.fold_minima import lowest_by_schedule
from planner.verdict.selection.tie_rule import BootstrapVerdict, apply_rule, bootstrap_rule, tied
from planner.verdict.statistics.bootstrap_weights import bootstrap_weights, leave_one_out_counts

MOST_NEIGHBOURS = 1500  # undominated, and as many cheap tied joint choices, that the bootstrap repeats the rule over


@dataclass(frozen=True, slots=True, eq=False)
class Training:
    """Complete losses of the joint choices that can be judged, in the units trained on."""

    rows: IntArray  # rows of the error matrix, (n_rows,)
    units: IntArray  # units trained on, (n_units,)
    loss: FloatArray  # (n_rows, n_units)
    variance: SingleArray  # (n_rows, n_units)
    level: SingleArray  # unbiased squared error, only caps what may tie, (n_rows, n_units)
    is_over: BoolArray  # (n_rows, n_units)


@dataclass(frozen=True, slots=True, eq=False)
class Lowest:
    """Every schedule that can be judged, with its row of lowest mean loss in the units trained on."""

    units: IntArray  # trained on, (n_trained,)
    rows: IntArray  # of the error matrix, (n_schedules,)
    loss: FloatArray  # mean, (n_schedules,)


@dataclass(frozen=True, slots=True)
class Pick:
    """What the rule took, as rows of the error matrix."""

    best: int  # lowest mean loss
    chosen: int  # the cheapest of those tied with it, or what the programmes' rule takes
    n_trial_batches: int = 1


@dataclass(frozen=True, slots=True)
class Rung:
    """What the rule takes among schedules with at most so many specimens."""

    most_specimens: int
    pick: Pick  # on all units
    folds: dict[int, Pick]  # without each unit in turn


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """The rule over one error matrix."""

    matrix: ErrorMatrix
    tier: AnyArray  # cheapness of each schedule, lower is cheaper, equal allowed, (n_choices,)
    learnt: LearntRows | None = None  # rows that know other units too are worked out again where one is left out

    def row_of(self, which: int, joint: int) -> int:
        """Row of the matrix that a schedule with a joint stands in."""
        return int(np.flatnonzero((self.matrix.row_choice == which) & (self.matrix.row_joint == joint))[0])

    def training(self, units: BoolArray, *, judged: int | None = None, only: BoolArray | None = None) -> Training:
        """Losses the rule may see.

        Where a unit lacks an age, a choice is scored through the best choice that most units hold: its
        mean loss there plus the mean difference over the units that both have.

        Parameters
        ----------
        units
            Units trained on, ``(n_units,)``.
        judged
            A unit left out that every choice offered must be able to predict.
        only
            Rows to choose among; all where None.
        """
        trained = np.flatnonzero(units)
        matrix = self.matrix
        if self.learnt is not None and len(trained) == len(units) - 1:
            matrix = self.learnt.without(matrix, int(np.flatnonzero(~units)[0]))
        has_holes = bool(np.isnan(matrix.loss).any())
        rows = np.arange(len(matrix.loss)) if only is None else np.flatnonzero(only)
        if judged is not None and has_holes:
            rows = rows[np.isfinite(matrix.loss[rows, judged])]
        if len(trained) == len(units) and len(rows) == len(matrix.loss) and not has_holes:
            return Training(rows, trained, matrix.loss, matrix.variance, matrix.level, matrix.is_over)  # no copies
        loss = matrix.loss[rows][:, trained]
        if not has_holes:
            return Training(
                rows, trained, loss, matrix.variance[rows][:, trained], matrix.level[rows][:, trained],
                matrix.is_over[rows][:, trained],
            )  # fmt: skip
        held = ~np.isnan(loss)
        is_had = held.any(axis=1)
        return _completed(matrix, rows[is_had], trained, loss[is_had], held[is_had])

    def lowest(self, units: BoolArray, *, judged: int | None = None) -> Lowest:
        """Lowest mean loss of every schedule, in schedules' order; parameters as in :meth:`training`."""
        matrix = self.matrix
        if self._has_holes or (self._has_learnt and not units.all()):
            training = self.training(units, judged=judged)
            rows, trained, loss = training.rows, training.units, training.loss
            is_counted = np.ones(len(trained), dtype=bool)
        else:
            rows, trained, loss, is_counted = None, np.flatnonzero(units), matrix.loss, units
        mean = np.empty(len(matrix.choices))
        first = np.empty(len(matrix.choices), dtype=np.int64)
        schedule = matrix.row_choice if rows is None else matrix.row_choice[rows]
        lowest_by_schedule(loss, schedule, is_counted, mean, first)
        at = np.flatnonzero(first >= 0)
        return Lowest(trained, first[at] if rows is None else rows[first[at]], mean[at])

    @property
    def _has_learnt(self) -> bool:
        return self.learnt is not None and any(joint.is_learnt for joint in self.matrix.joints)

    @property
    def _has_holes(self) -> bool:
        return bool(np.isnan(self.matrix.loss).any())

    def pick(self, training: Training) -> Pick | None:
        """Best and recommended; None where nothing can be judged."""
        if training.rows.size == 0:
            return None
        return self._picks(training, np.ones((1, len(training.units)), dtype=np.int64))[0][0]

    def folds(self, *, only: BoolArray | None = None) -> dict[int, Pick]:
        """What the rule takes without each unit in turn; units that no choice can be judged on are left out."""
        n_units = self.matrix.loss.shape[1]
        if n_units < FEWEST_TO_FOLD:
            return {}
        if self._has_holes or self._has_learnt:
            picks = {
                unit: self.pick(self.training(np.arange(n_units) != unit, judged=unit, only=only))
                for unit in range(n_units)
            }
            return {unit: pick for unit, pick in picks.items() if pick is not None}
        training = self.training(np.ones(n_units, dtype=bool), only=only)
        if training.rows.size == 0:
            return {}
        return dict(enumerate(self._picks(training, leave_one_out_counts(n_units))[0]))

    def rungs(self) -> tuple[Rung, ...]:
        """The rule under every limit on the number of specimens; limits under which nothing can be judged left out."""
        n_specimens = self.matrix.choices.n_specimens[self.matrix.row_choice]
        limits = np.unique(n_specimens)
        n_units = self.matrix.loss.shape[1]
        everything = np.ones(n_units, dtype=bool)
        if self._has_holes or n_units < FEWEST_TO_FOLD:
            found = [(most, np.asarray(n_specimens <= most)) for most in limits.tolist()]
            picks = [(most, self.pick(self.training(everything, only=only)), only) for most, only in found]
            return tuple(Rung(most, pick, self.folds(only=only)) for most, pick, only in picks if pick is not None)
        training = self.training(everything)
        if self._has_learnt:
            return self._rungs_worked_out(training, n_specimens, limits)
        worlds = np.vstack([np.ones((1, n_units), dtype=np.int64), leave_one_out_counts(n_units)])
        by_limit = self._picks(training, worlds, size=n_specimens, limits=limits)
        return tuple(
            Rung(most, pick, dict(enumerate(folds)))
            for most, (pick, *folds) in zip(limits.tolist(), by_limit, strict=True)
        )

    def _rungs_worked_out(self, training: Training, n_specimens: IntArray, limits: IntArray) -> tuple[Rung, ...]:
        """The same where rows are worked out again without each unit."""
        n_units = self.matrix.loss.shape[1]
        folds: list[dict[int, Pick]] = [{} for _ in limits]
        for unit in range(n_units):
            part = self.training(np.arange(n_units) != unit, judged=unit)
            size = n_specimens[part.rows]
            places = np.flatnonzero(limits >= size.min()) if size.size else np.empty(0, dtype=np.int64)
            if places.size:
                ones = np.ones((1, len(part.units)), dtype=np.int64)
                for place, (pick,) in zip(
                    places, self._picks(part, ones, size=size, limits=limits[places]), strict=True
                ):
                    folds[place][unit] = pick
        whole = self._picks(training, np.ones((1, n_units), dtype=np.int64), size=n_specimens, limits=limits)
        return tuple(Rung(most, pick, held) for most, (pick,), held in zip(limits.tolist(), whole, folds, strict=True))

    def _picks(
        self, training: Training, counts: IntArray, *, size: IntArray | None = None, limits: IntArray | None = None
    ) -> list[list[Pick]]:
        """Best and recommended in every world, under every limit, as in :func:`apply_rule`."""
        best, chosen = apply_rule(
            training.loss, training.variance, training.is_over, self._tiers(training), counts,
            level=training.level, size=size, limits=limits,
        )  # fmt: skip
        rows = [training.rows[np.atleast_2d(at)].tolist() for at in (best, chosen)]
        return [[Pick(*pair) for pair in zip(*under, strict=True)] for under in zip(*rows, strict=True)]

    def tied(self, training: Training, best: int) -> IntArray:
        """Rows tied with the best: one for each schedule, its best; cheapest first, equals by loss."""
        at = int(np.flatnonzero(training.rows == best)[0])
        is_tied = tied(training.loss, training.variance, training.is_over, at, level=training.level)
        rows, loss = training.rows[is_tied], training.loss[is_tied].mean(axis=1)
        schedule = self.matrix.row_choice[rows]
        order = np.lexsort((loss, schedule))
        is_first = np.r_[True, np.diff(schedule[order]) != 0]
        kept = order[is_first]
        return rows[kept[np.lexsort((loss[kept], self.tier[schedule[kept]]))]]

    def bootstrap(self, training: Training, also: IntArray, *, seed: int) -> tuple[BootstrapVerdict, IntArray]:
        """Repeat the rule in every resampled world of units.

        Over the joint choices within twice the root mean loss of the best that no other beats in every unit,
        and the first rows of `also` (the cheapest tied ones), so that the cheap end of the rule is repeated
        in its neighbourhood.

        Returns
        -------
        tuple
            The verdict, and the rows of the error matrix its inclusions speak of.
        """
        low = np.flatnonzero(self.matrix.is_low[training.rows])
        low = low[np.argsort(self._tiers(training)[low], kind="stable")]  # of equals the cheapest stays
        kept = low[undominated(training.loss[low])]
        kept = kept[np.argsort(training.loss[kept].mean(axis=1), kind="stable")[:MOST_NEIGHBOURS]]
        is_kept = np.isin(training.rows, also[:MOST_NEIGHBOURS])
        is_kept[kept] = True
        near = np.flatnonzero(is_kept)
        counts, probability = bootstrap_weights(len(training.units), seed=seed)
        verdict = bootstrap_rule(
            training.loss[near], training.variance[near], training.level[near], training.is_over[near],
            self._tiers(training)[near], counts=counts, probability=probability, is_capped_by_level=True,
        )  # fmt: skip
        return verdict, training.rows[near]

    def _tiers(self, training: Training) -> IntArray:
        return np.asarray(self.tier[self.matrix.row_choice[training.rows]], dtype=np.int64)


def _completed(matrix: ErrorMatrix, rows: IntArray, trained: IntArray, loss: FloatArray, held: BoolArray) -> Training:
    """Fill holes through a reference: the lowest mean among the choices that most units hold."""
    n_held = held.sum(axis=1)
    total = np.where(held, loss, 0.0).sum(axis=1)
    is_most = n_held == n_held.max()
    reference = int(np.argmin(np.where(is_most, total, np.inf)))
    columns = np.flatnonzero(held[reference])
    common = held[:, columns]
    is_scorable = common.sum(axis=1) >= min(FEWEST_SHARED, columns.size)
    filled = fill_holes(loss[:, columns], loss[reference, columns])
    variance = matrix.variance[rows][:, trained[columns]]
    variance = np.where(common, variance, mean_where(variance, common)[:, None]).astype(np.float32)
    level = matrix.level[rows][:, trained[columns]]
    level = np.where(common, level, mean_where(level, common)[:, None]).astype(np.float32)
    is_over = matrix.is_over[rows][:, trained[columns]] & common
    return Training(
        rows[is_scorable], trained[columns], filled[is_scorable], variance[is_scorable], level[is_scorable],
        is_over[is_scorable],
    )  # fmt: skip


def cheapness_tiers(*keys: FloatArray | IntArray) -> IntArray:
    """Rank schedules by several keys, the first counting most; equals share a tier. Each ``(n_choices,)``."""
    order = np.lexsort(keys[::-1])
    stacked = np.stack([key[order] for key in keys], axis=1)
    is_new = np.r_[False, np.any(np.diff(stacked, axis=0) != 0, axis=1)]
    tiers = np.empty(len(order), dtype=np.int64)
    tiers[order] = np.cumsum(is_new)
    return tiers
