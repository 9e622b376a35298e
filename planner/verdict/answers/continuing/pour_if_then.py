"""What a pour breaks more of after its first early break, by its mean, replayed on the earlier batches as pours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.mixed_model import judge_early_plans
from planner.mixed_model.stranger import FEWEST_BATCHES as FEWEST_TO_TELL
from planner.terms.results.after_casting.continuing import Action, IfThenTable
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.continuing.first_mean import FirstMean, typical_maturity_h
from planner.verdict.answers.continuing.first_mean_bands import Tried, bands_of
from planner.verdict.selection.search import Search
from planner.verdict.statistics.left_out import left_out_in_turn
from planner.verdict.validation.pours_of_cells import Pours, pours_of_cells

ODD = 0.05  # share of sound pours that are asked for one specimen more


def pour_table(
    search: Search, recommended: RatedChoice, earlier: EarlierBatches, early: EarlyBreaks | None
) -> IfThenTable | None:
    """The table of a pour: its law is linear, so no break changes the error of the others; odd pours get one more.

    None where early specimens are cured on site: each has a maturity of its own, so no band holds for all.
    """
    if early is None or early.recommended is None or not early.rows[early.recommended].ages_h:
        return None
    planned = search.plan.settings.pours
    if planned is not None and planned.curing == "site":
        return None
    row, settings = early.rows[early.recommended], search.plan.settings
    age_h, n = row.ages_h[0], row.specimens[0]
    column = earlier.column_of(age_h)
    if column is None:
        return None
    first = FirstMean.of(earlier, column, n)
    bands, expected = bands_of(first, _pour_answer(first, settings.choices.least_strength_mpa), is_pour=True)
    setting = search.cells.settings.index(recommended.maturity)
    pours = pours_of_cells(search.cells, row.ages_h, settings.target.target_weights, setting=setting)
    replayed = _replayed_pours(pours, row.specimens, earlier, age_h, settings.choices.least_strength_mpa)
    return IfThenTable(
        age_h=age_h,
        n_specimens=n,
        expected_mpa=expected,
        bands=bands,
        error_planned=replayed.error_planned,
        error_followed=replayed.error_followed,
        specimens_planned=float(row.n_specimens),
        specimens_followed=row.n_specimens + replayed.n_added / replayed.n_tried,
        n_batches=replayed.n_tried,
        n_changed=replayed.n_changed,
        can_tell_strangers=earlier.cells.n_batches >= FEWEST_TO_TELL,
        noticed_deficit=first.noticed_deficit,
    )


def _pour_answer(first: FirstMean, least_mpa: float) -> Callable[[float], Tried]:
    from scipy.special import stdtrit

    odd = float(stdtrit(first.earlier.cells.n_batches - 1, 1.0 - 0.5 * ODD))

    def answer(mean_mpa: float) -> Tried:
        if mean_mpa < least_mpa:
            return Tried("move")
        if first.is_stranger(mean_mpa):
            return Tried("stop")
        return Tried("add" if abs(np.log(mean_mpa) - first.middle) > odd * first.sd else "go on")

    return answer


@dataclass(frozen=True, slots=True)
class _Replayed:
    """The table of a pour followed by every batch, or of very many by an even choice, held out as the pour."""

    error_planned: float
    error_followed: float
    n_added: int  # batches with one specimen more
    n_changed: int
    n_tried: int


def _replayed_pours(
    pours: Pours, specimens: tuple[int, ...], earlier: EarlierBatches, age_h: float, least_mpa: float
) -> _Replayed:
    more = np.array(specimens)
    more[-1] += 1
    tried = left_out_in_turn(earlier.cells.n_batches)
    pours = pours.checked_in(tried)
    errors = judge_early_plans(pours.held_out, np.array([specimens, more]))
    actions = [_held_out_action(earlier, batch, age_h, specimens[0], least_mpa) for batch in tried.tolist()]
    is_added = np.zeros(earlier.cells.n_batches, dtype=np.int64)
    is_added[tried] = [action == "add" for action in actions]
    taken, check = is_added[pours.held_out.check_batch], np.arange(len(pours.held_out.check_batch))
    level, variance = errors.level(), errors.variance()
    weight = np.where(np.isfinite(level[0]), pours.check_weight, 0.0)
    share = weight / weight.sum()
    roots = [
        float(np.sqrt(max(np.nansum(share * level[at, check]), np.nansum(share * variance[at, check]))))
        for at in (np.zeros_like(taken), taken)
    ]
    n_changed = sum(action != "go on" for action in actions)
    return _Replayed(roots[0], roots[1], int(is_added.sum()), n_changed, len(tried))


def _held_out_action(earlier: EarlierBatches, batch: int, age_h: float, n: int, least_mpa: float) -> Action:
    """What the others' table does with one batch; its mean is carried to their typical maturity."""
    broken, others = earlier.means_of(batch, age_h, n), earlier.without(batch)
    column = others.column_of(age_h)
    if broken is None or column is None:
        return "go on"
    own, typical = (float(others.prior.at(m)[0][0]) for m in (broken.maturity_h, typical_maturity_h(others, column)))
    carried = float(broken.mean_mpa[0] * np.exp(typical - own))
    return _pour_answer(FirstMean.of(others, column, n), least_mpa)(carried).action
