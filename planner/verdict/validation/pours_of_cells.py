"""The earlier batches as later pours: full standard-cured cells, what each pour may break early, where it is checked.

A pour that is held out tells nothing of the population, and its early breaks come before the target. So no cell
needs to be parted between fit and truth here: where the search halves a cell, its halves are put together again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.mixed_model import HeldOutPours, PriorBatches
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.check_condition import TruthSource


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pours:
    """Held-out pours, and how their checks add up."""

    held_out: HeldOutPours
    columns: IntArray  # places of the model's ages among those of the cells, (n_ages,)
    early_cv: FloatArray  # within-test scatter at the early ages, (n_early,)
    check_target: IntArray  # (n_checks,)
    check_weight: FloatArray  # sums to 1 over each batch, targets by their shares, (n_checks,)


def pours_of_cells(cells: Cells, early_ages_h: tuple[float, ...], shares: tuple[float, ...], *, setting: int) -> Pours:
    """Put the cells of every batch together under one maturity setting.

    Parameters
    ----------
    early_ages_h
        Recorded standard-cured ages [h].
    shares
        Weight of each target, summing to 1.
    setting
        Place of the maturity setting among those of the cells.
    """
    names = tuple(dict.fromkeys(cells.views.batch))
    mean, count, maturity = _whole_cells(cells, names, setting)
    columns = np.flatnonzero(np.any(count > 0, axis=0))
    early = np.array([int(np.flatnonzero(cells.ages_h == age)[0]) for age in early_ages_h], dtype=np.int64)
    checks = _whole_checks(cells, names, (mean, count, maturity), setting)
    target_h = np.array(cells.target_ages_h)[checks.target]
    return Pours(
        held_out=HeldOutPours(
            batches=PriorBatches(
                mean_mpa=mean[:, columns],
                n_specimens=count[:, columns],
                maturity_h=maturity[:, columns],
                cv=cells.cv[columns],
            ),
            early_mean_mpa=mean[:, early],
            early_n_specimens=count[:, early],
            early_maturity_h=maturity[:, early],
            check_batch=checks.batch,
            check_maturity_h=checks.maturity_h,
            check_truth_mpa=checks.truth_mpa,
            check_noise=checks.noise,
            is_before=np.array(early_ages_h)[None, :] < target_h[:, None],
        ),
        columns=columns,
        early_cv=cells.cv[early],
        check_target=checks.target,
        check_weight=_weights(checks.batch, checks.target, shares),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Checks:
    batch: IntArray
    target: IntArray
    maturity_h: FloatArray
    truth_mpa: FloatArray
    noise: FloatArray


def _whole_cells(cells: Cells, names: tuple[str, ...], setting: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean, count and maturity of every standard-cured cell of every batch, ``(n_batches, n_ages)`` each.

    The specimens of a view and those that check it are the whole cell; several views of a batch are several ways
    of halving it.
    """
    first = np.array([cells.views.batch.index(batch) for batch in names])
    whole = cells.views.whole.take(first)
    maturity_h = whole.maturity_h[setting]
    return np.nan_to_num(whole.mean_mpa), whole.n_specimens, np.nan_to_num(maturity_h)


def _whole_checks(
    cells: Cells, names: tuple[str, ...], whole: tuple[FloatArray, FloatArray, FloatArray], setting: int
) -> _Checks:
    """Every truth of every batch once: site-cured ones as they are, a standard-cured one from its whole cell.

    Of a strength that is waited for, every way of halving its cells tells another maturity: their mean is taken, and
    rests on twice the specimens of one half.
    """
    mean, count, maturity = whole
    checks = cells.checks
    rows: dict[tuple[int, int, str], tuple[float, float, float]] = {}
    for k in range(len(checks)):
        batch, target = names.index(cells.views.batch[checks.view[k]]), int(checks.target[k])
        source = checks.condition[k].source
        if cells.target_waits_mpa[target] is not None and source != TruthSource.SITE_CURED:
            alike = [
                j
                for j in range(len(checks))
                if checks.target[j] == target and cells.views.batch[checks.view[j]] == names[batch]
            ]
            noise = float(np.mean(checks.cv[alike] ** 2 / checks.n_specimens[alike])) / min(len(alike), 2)
            told = (float(np.mean(checks.maturity_h[setting, alike])), float(checks.truth_mpa[k]), noise)
        elif source == TruthSource.STANDARD_CURED:
            i = int(np.flatnonzero(cells.ages_h == cells.target_ages_h[target])[0])
            told = (float(maturity[batch, i]), float(mean[batch, i]), float(checks.cv[k] ** 2 / count[batch, i]))
        else:
            noise = float(checks.cv[k] ** 2 / checks.n_specimens[k])
            told = (float(checks.maturity_h[setting, k]), float(checks.truth_mpa[k]), noise)
        rows[batch, target, str(checks.condition[k])] = told
    values = np.array(list(rows.values()))
    return _Checks(
        batch=np.array([batch for batch, _, _ in rows]),
        target=np.array([target for _, target, _ in rows]),
        maturity_h=values[:, 0],
        truth_mpa=values[:, 1],
        noise=values[:, 2],
    )


def _weights(batch: IntArray, target: IntArray, shares: tuple[float, ...]) -> FloatArray:
    """Conditions of one batch and target share the weight of the target."""
    return np.array(
        [shares[t] / np.sum((batch == b) & (target == t)) for b, t in zip(batch, target, strict=True)],
        dtype=np.float64,
    )
