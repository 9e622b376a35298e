"""What will be done after the first break, by its mean: laid down before casting, replayed on the earlier batches."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.mixed_model.stranger import FEWEST_BATCHES as FEWEST_TO_TELL
from planner.terms.arrays import FloatArray
from planner.terms.results.after_casting.continuing import IfThen, IfThenTable
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.continuing.beginnings import earlier_batches, rescored
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.continuing.first_mean import FirstMean
from planner.verdict.answers.continuing.first_mean_bands import Tried, bands_of
from planner.verdict.answers.continuing.pour_if_then import pour_table
from planner.verdict.answers.continuing.rescored import Decision, Rescored
from planner.verdict.selection.search import Search
from planner.verdict.statistics.left_out import left_out_in_turn
from planner.verdict.validation.one_mix import why_not_one_mix

FEWEST_BATCHES = 4  # of which one is held out in the replay


def if_then(search: Search, recommended: RatedChoice, early: EarlyBreaks | None) -> IfThen | None:
    """Both tables; None where the records do not tell how batches of one mix differ."""
    if why_not_one_mix(search, fewest=FEWEST_BATCHES) is not None:
        return None
    earlier = earlier_batches(search, recommended)
    return IfThen(
        trial=_trial_table(search, recommended, earlier), pour=pour_table(search, recommended, earlier, early)
    )


def _trial_table(search: Search, recommended: RatedChoice, earlier: EarlierBatches) -> IfThenTable | None:
    age_h, n = recommended.schedule.ages_h[0], recommended.schedule.specimens[0]
    found = rescored(search, recommended, {age_h: n})
    column = earlier.column_of(age_h)
    if found is None or column is None or recommended.schedule.n_ages < 2:
        return None
    table, units = found
    places = [earlier.names.index(search.cells.unit_names[unit]) for unit in units]
    first = FirstMean.of(earlier, column, n)

    def answer(mean_mpa: float) -> Tried:
        decision = _decided(table, first.is_stranger(mean_mpa), first.weights(mean_mpa)[places])
        return Tried(decision.action, table.schedule(decision.row) if decision.row != table.planned else None)

    bands, expected = bands_of(first, answer, is_pour=False)
    replayed = _replay(earlier, table, places, age_h, n)
    if not replayed:
        return None
    rows = np.array([decision.row for decision in replayed.values()])
    at = np.array(list(replayed))
    return IfThenTable(
        age_h=age_h,
        n_specimens=n,
        expected_mpa=expected,
        bands=bands,
        error_planned=_root(table.level[table.planned, at], table.variance[table.planned, at]),
        error_followed=_root(table.level[rows, at], table.variance[rows, at]),
        specimens_planned=float(table.n_specimens[table.planned]),
        specimens_followed=float(np.mean(table.n_specimens[rows])),
        n_batches=len(replayed),
        n_changed=sum(decision.action != "go on" for decision in replayed.values()),
        can_tell_strangers=earlier.cells.n_batches >= FEWEST_TO_TELL,
        noticed_deficit=first.noticed_deficit,
    )


def _decided(table: Rescored, is_stranger: bool | None, weights: FloatArray) -> Decision:
    """What is done with a batch, where the earlier batches judged count with these weights."""
    if is_stranger:
        return Decision("stop", table.planned)
    return table.decide(weights / weights.sum())


def _replay(
    earlier: EarlierBatches, table: Rescored, places: Sequence[int], age_h: float, n: int
) -> dict[int, Decision]:
    """What the table does with every batch when the others alone decide, by its place among the judged.

    Of very many batches an even choice is tried.
    """
    taken = {}
    for at in left_out_in_turn(len(places)).tolist():
        batch = places[at]
        broken = earlier.means_of(batch, age_h, n)
        if broken is None or len(places) < FEWEST_BATCHES:
            continue
        others = earlier.without(batch)
        kept = np.array([k for k in range(len(places)) if k != at])
        theirs = [places[k] - (places[k] > batch) for k in kept]
        weights = others.weights(broken, [age_h])[theirs]
        taken[at] = _decided(table.only(kept), others.stranger(broken).is_stranger, weights)
    return taken


def _root(level: FloatArray, variance: FloatArray) -> float:
    """RMS of levels, never below what the specimens alone give."""
    return float(np.sqrt(max(level.mean(), variance.mean())))
