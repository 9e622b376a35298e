"""The earlier batches as later pours: full standard-cured cells, what each pour may break early, where it is checked.

A pour that is held out tells nothing of the population, and its early breaks come before the target. So no cell
needs to be parted between fit and truth here: where the search halves a cell, its halves are put together again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.evidence import Cells
from planner.maturity.inside_records import LEAST_SLACK
from planner.mixed_model import HeldOutPours, PriorBatches
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.early_breaks import EarlyCuring
from planner.terms.results.check_condition import TruthSource
from planner.verdict.statistics.left_out import left_out_in_turn


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pours:
    """Held-out pours, and how their checks add up."""

    held_out: HeldOutPours
    columns: IntArray  # places of the model's ages among those of the cells, (n_ages,)
    early_cv: FloatArray  # within-test scatter at the early ages, (n_early,)
    check_target: IntArray  # (n_checks,)
    check_weight: FloatArray  # sums to 1 over each batch, targets by their weights, (n_checks,)

    def checked_in(self, batches: IntArray) -> Pours:
        """The same with the checks of some batches alone; the others still tell of the population."""
        held = self.held_out
        kept = np.isin(held.check_batch, batches)
        return replace(
            self,
            held_out=replace(
                held,
                check_batch=held.check_batch[kept],
                check_maturity_h=held.check_maturity_h[kept],
                check_truth_mpa=held.check_truth_mpa[kept],
                check_noise=held.check_noise[kept],
                is_before=held.is_before[kept],
                check_early=None if held.check_early is None else held.check_early[kept],
            ),
            check_target=self.check_target[kept],
            check_weight=self.check_weight[kept],
        )


def pours_of_cells(
    cells: Cells,
    early_ages_h: tuple[float, ...],
    target_weights: tuple[float, ...],
    *,
    setting: int,
    curing: EarlyCuring = "standard",
) -> Pours:
    """Put the cells of every batch together under one maturity setting.

    Parameters
    ----------
    early_ages_h
        Recorded standard-cured ages [h].
    target_weights
        Weight of each target, summing to 1.
    setting
        Place of the maturity setting among those of the cells.
    curing
        Of the early specimens: standard-cured cells at ages of the records, or site-cured companions, each at its own
        maturity and beside the checks of its own place. One that is younger than anything in the records is none.
    """
    names = tuple(dict.fromkeys(cells.views.batch))
    mean, count, maturity = _whole_cells(cells, names, setting)
    columns = np.flatnonzero(np.any(count > 0, axis=0))
    early = np.empty(0, dtype=np.int64)
    if curing == "standard":
        early = np.array([int(np.flatnonzero(cells.ages_h == age)[0]) for age in early_ages_h], dtype=np.int64)
    checks = _whole_checks(cells, names, (mean, count, maturity), setting)
    if curing == "site":
        least_h = float(maturity[count > 0].min()) * (1.0 - LEAST_SLACK)
        early_cells, check_early = _site_cells(cells, names, early_ages_h, checks, setting=setting, least_h=least_h)
    else:
        early_cells, check_early = (mean[:, early], count[:, early], maturity[:, early]), None
    target_h = np.array(cells.target_ages_h)[checks.target]
    return Pours(
        held_out=HeldOutPours(
            batches=PriorBatches(
                mean_mpa=mean[:, columns],
                n_specimens=count[:, columns],
                maturity_h=maturity[:, columns],
                cv=cells.cv[columns],
            ),
            early_mean_mpa=early_cells[0],
            early_n_specimens=early_cells[1],
            early_maturity_h=early_cells[2],
            check_early=check_early,
            check_batch=checks.batch,
            check_maturity_h=checks.maturity_h,
            check_truth_mpa=checks.truth_mpa,
            check_noise=checks.noise,
            is_before=np.array(early_ages_h)[None, :] < target_h[:, None],
        ),
        columns=columns,
        early_cv=cells.scatter.cv_at(np.array(early_ages_h, dtype=np.float64)),
        check_target=checks.target,
        check_weight=_weights(checks.batch, checks.target, target_weights),
    )


def some_pours(cells: Cells, most: int) -> Cells:
    """The same cells with at most so many of the batches, evenly chosen in their order."""
    names = tuple(dict.fromkeys(cells.views.batch))
    kept = {names[at] for at in left_out_in_turn(len(names), most=most).tolist()}
    return cells.of_views(np.array([at for at, name in enumerate(cells.views.batch) if name in kept], dtype=np.int64))


@dataclass(frozen=True, slots=True, eq=False)
class _Checks:
    batch: IntArray
    target: IntArray
    maturity_h: FloatArray
    truth_mpa: FloatArray
    noise: FloatArray
    place: tuple[str, ...]


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
    rows: dict[tuple[int, int, str, float], tuple[float, float, float]] = {}
    places: dict[tuple[int, int, str, float], str] = {}
    for k in range(len(checks)):
        batch, target = names.index(cells.views.batch[checks.view[k]]), int(checks.target[k])
        source, spread = checks.condition[k].source, float(checks.conversion_cv[k])
        if cells.target_waits_mpa[target] is not None and source != TruthSource.SITE_CURED:
            alike = [
                j
                for j in range(len(checks))
                if checks.target[j] == target and cells.views.batch[checks.view[j]] == names[batch]
            ]
            noise = float(np.mean(checks.cv[alike] ** 2 / checks.n_specimens[alike])) / min(len(alike), 2)
            found = (float(np.mean(checks.maturity_h[setting, alike])), float(checks.truth_mpa[k]), noise)
        elif source == TruthSource.STANDARD_CURED:
            i = int(np.flatnonzero(cells.ages_h == cells.target_ages_h[target])[0])
            found = (
                float(maturity[batch, i]),
                float(mean[batch, i]) / (1.0 + spread),
                float(checks.cv[k] ** 2 / count[batch, i]),
            )
        else:
            noise = float(checks.cv[k] ** 2 / checks.n_specimens[k])
            found = (float(checks.maturity_h[setting, k]), float(checks.truth_mpa[k]), noise)
        key = (batch, target, str(checks.condition[k]), float(np.sign(spread)))  # both sides of a converted truth
        rows[key], places[key] = found, checks.condition[k].place
    values = np.array(list(rows.values()))
    return _Checks(
        batch=np.array([batch for batch, *_ in rows]),
        target=np.array([target for _, target, *_ in rows]),
        maturity_h=values[:, 0],
        truth_mpa=values[:, 1],
        noise=values[:, 2],
        place=tuple(places.values()),
    )


def _site_cells(
    cells: Cells,
    names: tuple[str, ...],
    ages_h: tuple[float, ...],
    checks: _Checks,
    *,
    setting: int,
    least_h: float,
) -> tuple[tuple[FloatArray, FloatArray, FloatArray], IntArray]:
    """Mean, count and maturity of site-cured early breaks by batch and place, and the row beside each check.

    The last row is a place without any.
    """
    on_site = cells.site_cured
    batch = [names.index(cells.views.batch[v]) for v in on_site.view]
    rows = {key: at for at, key in enumerate(sorted(set(zip(batch, on_site.place, strict=True))))}
    mean, count, maturity = (np.zeros((len(rows) + 1, len(ages_h))) for _ in range(3))
    for k, (b, place, age_h) in enumerate(zip(batch, on_site.place, on_site.age_h.tolist(), strict=True)):
        if age_h in ages_h and on_site.maturity_h[setting, k] >= least_h:
            at = (rows[b, place], ages_h.index(age_h))
            mean[at], count[at] = on_site.truth_mpa[k], on_site.n_specimens[k]
            maturity[at] = on_site.maturity_h[setting, k]
    check_early = []
    for b, place in zip(checks.batch.tolist(), checks.place, strict=True):
        beside = [at for (one, where), at in rows.items() if one == b and (not place or where == place)]
        check_early.append(beside[0] if beside else len(rows))
    return (mean, count, maturity), np.array(check_early, dtype=np.int64)


def _weights(batch: IntArray, target: IntArray, target_weights: tuple[float, ...]) -> FloatArray:
    """Conditions of one batch and target share the weight of the target."""
    return np.array(
        [target_weights[t] / np.sum((batch == b) & (target == t)) for b, t in zip(batch, target, strict=True)],
        dtype=np.float64,
    )
