"""The schedules that begin as a trial batch was broken, with their losses in every earlier batch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from planner.choices import ChoiceSet
from planner.resampling import error_matrix
from planner.resampling.errors.sweeps import Joint
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.continuing.rescored import Rescored
from planner.verdict.selection.search import Search
from planner.verdict.validation.pours_of_cells import pours_of_cells

MOST_MORE = 6  # specimens that may be added to the plan of a batch that is being broken


def earlier_batches(search: Search, recommended: RatedChoice) -> EarlierBatches:
    """The earlier batches under the recommended maturity setting."""
    cells = search.cells
    pours = pours_of_cells(
        cells, (), search.plan.settings.target.target_weights, setting=cells.settings.index(recommended.maturity)
    )
    names = tuple(dict.fromkeys(cells.views.batch))
    return EarlierBatches.of(names, cells.ages_h[pours.columns], pours.held_out.batches)


def rescored(search: Search, recommended: RatedChoice, broken: Mapping[float, int]) -> tuple[Rescored, IntArray] | None:
    """Score every schedule that begins with these breaks; None where the plan itself cannot be judged.

    Parameters
    ----------
    broken
        Specimens by age [h], what is broken so far.

    Returns
    -------
    tuple
        The schedules, and the earlier batches that they are judged on (those that hold the planned ages), as units.
    """
    cells = search.cells
    counts = {int(np.argmin(np.abs(cells.ages_h - age))): n for age, n in broken.items()}
    planned = planned_with(recommended.schedule, cells.ages_h, counts)
    choices, row = _beginning(search.listed, counts, planned, int(search.listed.n_specimens.max()))
    joint = _joint(search, recommended)
    scored = error_matrix(
        cells, choices, (joint,), replace(search.scoring, penalty=None), n_workers=search.n_workers, is_all_kept=True
    )
    loss, level, variance = (np.full((len(choices), cells.n_units), np.nan) for _ in range(3))
    for whole, part in ((loss, scored.loss), (level, scored.level), (variance, scored.variance)):
        whole[scored.row_choice] = part
    units = np.flatnonzero(np.isfinite(loss[row]))
    if units.size == 0:
        return None
    is_whole = np.isfinite(loss[:, units]).all(axis=1)
    kept = np.flatnonzero(is_whole)
    return (
        Rescored(
            choices=choices.part(is_whole),
            loss=loss[kept][:, units],
            level=level[kept][:, units],
            variance=variance[kept][:, units],
            planned=int(np.flatnonzero(kept == row)[0]),
            immaterial=search.plan.settings.target.immaterial_difference,
        ),
        units,
    )


def planned_with(schedule: Schedule, ages_h: FloatArray, counts: Mapping[int, int]) -> dict[int, int]:
    """The planned schedule as it can still be kept: what is broken as it was, what lies later as planned."""
    last = max(counts)
    later = {
        int(np.argmin(np.abs(ages_h - age))): n for age, n in zip(schedule.ages_h, schedule.specimens, strict=True)
    }
    return {**counts, **{place: n for place, n in later.items() if place > last}}


def _joint(search: Search, recommended: RatedChoice) -> Joint:
    return next(
        joint
        for joint in search.matrix.joints
        if (joint.curve, joint.weighting, joint.maturity)
        == (recommended.curve, recommended.weighting, recommended.maturity)
    )


def _beginning(
    choices: ChoiceSet, counts: Mapping[int, int], planned: Mapping[int, int], budget: int
) -> tuple[ChoiceSet, int]:
    """Schedules whose ages up to the last break are those broken, with those specimens; and the row of the plan."""
    last = max(counts)
    has_age = choices.set_has_age()
    broken = np.zeros(has_age.shape[1], dtype=bool)
    broken[list(counts)] = True
    is_alike = np.all(has_age[:, : last + 1] == broken[None, : last + 1], axis=1)
    n_broken, n_planned = sum(counts.values()), sum(planned.values())
    most = min(n_planned + MOST_MORE, max(budget, n_planned))
    which = np.flatnonzero(is_alike[choices.set_of])
    n_later = choices.patterns[:, len(counts) :].sum(axis=1, dtype=np.int64)  # the broken ages stand first
    which = which[n_later[choices.pattern_of[which]] + n_broken <= most]
    by_age = np.zeros((len(which) + 1, len(choices.ages_h)), dtype=np.int16)
    members = choices.set_members[choices.set_of[which]].astype(np.int64)
    rows, columns = np.nonzero(members >= 0)
    by_age[rows, members[rows, columns]] = choices.specimens_of(which)[rows, columns]
    for place, n in counts.items():
        by_age[:, place] = n
    by_age[-1] = 0
    by_age[-1, list(planned)] = list(planned.values())
    packed = _packed(choices.ages_h, np.unique(by_age, axis=0))
    return packed, int(np.flatnonzero(np.all(packed.specimens_by_age() == by_age[-1], axis=1))[0])


def _packed(ages_h: FloatArray, by_age: IntArray) -> ChoiceSet:
    """Specimens at every age as a choice set, each set of ages once."""
    sets, set_of = np.unique(by_age > 0, axis=0, return_inverse=True)
    n_ages = sets.sum(axis=1)
    most = int(n_ages.max())
    members = np.full((len(sets), most), -1, dtype=np.int16)
    for row, held in enumerate(sets):
        members[row, : n_ages[row]] = np.flatnonzero(held)
    order = np.argsort(np.ravel(set_of), kind="stable")  # schedules of one set stand together
    set_of, by_age = np.ravel(set_of)[order], by_age[order]
    specimens = np.zeros((len(by_age), most), dtype=np.int16)
    at = members[set_of].astype(np.int64)
    specimens[at >= 0] = np.take_along_axis(by_age, np.maximum(at, 0), axis=1)[at >= 0]
    return ChoiceSet(ages_h, members, n_ages.astype(np.int64), set_of, np.arange(len(specimens)), specimens)
