"""How many trial batches, with how many specimens: the cheapest programme that is good enough, or ties.

A programme is a schedule with its curve times a number of trial batches. Which ages and which curve, so much
money given, is told by the own-batch loss: it separates schedules that later pours, few and unlike each
other, do not. How much money, and on how many trial batches, is told by the error where readings are judged.
So the schedules of lowest loss at every price make a ladder, and the judged error chooses the rung.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.evidence import Cells
from planner.resampling import Scoring
from planner.resampling.errors.later_pours.judged_programmes import Programmes, judge, judge_by_unit
from planner.terms.arrays import IntArray
from planner.verdict.selection.careful_constant import careful_of, tied_constants
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from planner.verdict.selection.programmes.price_ladder import Ladder, near_as_many, rungs_of
from planner.verdict.selection.programmes.programme import Chosen, Limits, Taken, Wanted
from planner.verdict.selection.programmes.programme_dominance import Keyed, keyed
from planner.verdict.selection.rule import Lowest, Rule


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ProgrammeRule:
    """The rule over everything that was searched."""

    cells: Cells
    scoring: Scoring
    rule: Rule
    limits: Limits
    wanted: Wanted
    everything: Programmes  # every schedule with the joint of lowest loss, `TOLD_TRIAL_BATCHES` and the limits'
    fronts: tuple[IntArray, ...]  # of each number of the limits the schedules that none of their price beats
    n_workers: int = 1
    site_c: tuple[float, float] | None = None  # coolest and warmest on site: of tied constants the careful is taken

    def choose(self) -> Chosen | None:
        """The cheapest rung that is good enough, else the cheapest rung that ties with the best.

        Repeated without each unit it is the same rule, so that what is said of left-out units holds for what is
        taken. Where no rung is good enough but some other schedule is, that one is taken. None where nothing can be
        judged.
        """
        near = self._near()
        ladder = self._ladder(near)
        chosen = None if ladder is None else self._of_ladder(ladder)
        if chosen is None:
            return None
        good = None if chosen.is_enough else self.cheapest_enough()
        if good is not None:
            chosen = Chosen(good, chosen.best, True, chosen.tied)
        chosen = self._unbeaten(chosen, near)
        tied = tuple(item for item in chosen.tied if item == chosen.taken or not self.is_beaten(item))
        return self._careful(replace(chosen, tied=tied))

    def choose_without(self, *units: int) -> Chosen | None:
        """The same from the ladder without some units, which are then neither trial batches nor pours.

        One unit left out alone is what the choice will be judged on, and every schedule offered must be able to read
        it. Of two, one is only a trial batch, and where it lacks an age there is no reading to judge.
        """
        near = self._near(units)
        ladder = self._ladder(near, without=units)
        chosen = None if ladder is None else self._of_ladder(ladder)
        return None if chosen is None else self._careful(self._unbeaten(chosen, near, without=units), without=units)

    def _careful(self, chosen: Chosen, *, without: tuple[int, ...] = ()) -> Chosen:
        """Take the constant that reads lower at the worst end of the site's range among those that tie.

        They tie in the judged error and on the own batch, in one method and with everything else the same. What is
        good enough stays so.
        """
        taken, joints = chosen.taken, self.rule.matrix.joints
        mine = joints[taken.joint]
        alike = [
            at
            for at, joint in enumerate(joints)
            if (joint.curve, joint.weighting, joint.maturity.method)
            == (mine.curve, mine.weighting, mine.maturity.method)
        ]
        if self.site_c is None or len(alike) < 2:
            return chosen
        judged, own = (
            judge(
                self.cells, self.scoring, self.rule.matrix.choices, np.full(len(alike), taken.which), np.array(alike),
                joints, judged_on=judged_on, trial_batches=(taken.n_trial_batches,), without=without,
            )
            for judged_on in (self.wanted.judged_on, "own batch")
        )  # fmt: skip
        is_tied = tied_constants([one.rms[:, 0].astype(np.float64) for one in (judged, own)], self.wanted.immaterial)
        if chosen.is_enough:
            is_tied &= judged.within_tolerance[:, 0] >= self.wanted.assurance
        is_tied[alike.index(taken.joint)] = True
        kept = tuple(at for at, one in zip(alike, is_tied, strict=True) if one)
        careful = kept[careful_of([joints[at].maturity for at in kept], self.site_c)]
        instead = replace(taken, joint=careful)
        tied = tuple(instead if item == taken else item for item in chosen.tied)
        return replace(chosen, taken=instead, tied=tied, alike=kept)

    def _of_ladder(self, ladder: Ladder) -> Chosen | None:
        chosen = ladder.tied_with_best(self.wanted, self.limits)
        if chosen is None:
            return None
        is_good = ladder.is_allowed & (ladder.judged.within_tolerance >= self.wanted.assurance)
        if not is_good.any():
            return chosen
        good = ladder.cheapest(self.limits, *np.nonzero(is_good))
        return Chosen(good, chosen.best, True, chosen.tied)

    def _unbeaten(self, chosen: Chosen, near: Lowest, *, without: tuple[int, ...] = ()) -> Chosen:
        """Put a schedule of near own-batch loss in the place of what is taken where it beats that on every key.

        Of several that nothing beats the one of lowest own-batch loss; among schedules of like loss and no higher
        price the later pour decides. What is good enough stays so.
        """
        taken = chosen.taken
        which, joint = self.rule.matrix.row_choice[near.rows], self.rule.matrix.row_joint[near.rows]
        price = self.limits.price_keys(np.array([taken.which]), np.array([taken.n_trial_batches]))
        numbers = self.limits.trial_batches
        spent = self.limits.spent(which, numbers)
        is_no_dearer = np.all([key <= most[0] for key, most in zip(spent, price, strict=True)], axis=0)
        kept = np.flatnonzero(is_no_dearer.any(axis=1) | ((which == taken.which) & (joint == taken.joint)))
        if not kept.size:
            return chosen
        judged = judge(
            self.cells, self.scoring, self.rule.matrix.choices, np.r_[taken.which, which[kept]],
            np.r_[taken.joint, joint[kept]], self.rule.matrix.joints, judged_on=self.wanted.judged_on,
            trial_batches=numbers, without=without, n_workers=self.n_workers,
        )  # fmt: skip
        is_allowed = np.vstack([np.zeros((1, len(numbers)), dtype=bool), is_no_dearer[kept]])
        if chosen.is_enough:
            is_allowed &= judged.within_tolerance >= self.wanted.assurance
        column = numbers.index(taken.n_trial_batches)
        mine = tuple(float(array[0, column]) for array in (judged.rms, judged.worst, judged.over_beyond))
        some = keyed(
            judged, range(len(numbers)), is_allowed, self.limits.spent(np.r_[taken.which, which[kept]], numbers)
        )
        lost = np.r_[np.inf, near.loss[kept]][some.which]
        first = some.first_unbeaten((*mine, *(float(most[0]) for most in price)), lost)
        if first is None:
            return chosen
        at = kept[some.which[first] - 1]
        instead = Taken(int(which[at]), int(joint[at]), numbers[int(some.column[first])])
        tied = tuple(dict.fromkeys(instead if item == taken else item for item in chosen.tied))
        return replace(chosen, taken=instead, tied=tied)

    def beaten_by(self, taken: Taken) -> Taken | None:
        """A programme within the limits, of all schedules, that beats this one or equals it on every key.

        Of several that nothing beats the one of lowest own-batch loss; None where there is none. It may read its own
        concrete worse, which is no key: then the ranking keeps what it beats, and it has to be said.
        """
        keys, found = self._keys_of(taken), []
        for some, at in self._within_limits(keys, taken):
            score = self.rule.matrix.score[at[some.which]]
            first = some.first_unbeaten(keys, score)
            if first is not None:
                which = int(at[some.which[first]])
                number = self.limits.trial_batches[int(some.column[first])]
                found.append((float(score[first]), Taken(which, int(self.rule.matrix.best_joint[which]), number)))
        return min(found, key=lambda item: item[0])[1] if found else None

    def is_beaten(self, taken: Taken) -> bool:
        """Whether there is such a programme."""
        keys = self._keys_of(taken)
        return any(bool(some.beating(keys).any()) for some, _ in self._within_limits(keys, taken))

    def _keys_of(self, taken: Taken) -> tuple[float, ...]:
        """All that counts of one programme: what it is judged at, then what is spent."""
        everything = self.everything
        column = everything.trial_batches.index(taken.n_trial_batches)
        mine: tuple[float, ...] = tuple(
            float(array[taken.which, column]) for array in (everything.rms, everything.worst, everything.over_beyond)
        )
        if taken.joint != self.rule.matrix.best_joint[taken.which]:
            own = self._judge_alone(taken)
            mine = tuple(float(array[0, 0]) for array in (own.rms, own.worst, own.over_beyond))
        price = self.limits.price_keys(np.array([taken.which]), np.array([taken.n_trial_batches]))
        return (*mine, *(float(key[0]) for key in price))

    def _within_limits(self, keys: Sequence[float], taken: Taken) -> Iterator[tuple[Keyed, IntArray]]:
        """For each number of trial batches the programmes of its front that may beat these keys, and their schedules.

        What beats anything at all is on the front, or as good as something on it. The same programme under another
        constant is no rival: the constant was chosen for what it reads at the ends of the site's range.
        """
        best = self.rule.matrix.joints[int(self.rule.matrix.best_joint[taken.which])]
        mine = self.rule.matrix.joints[taken.joint]
        is_same = (best.curve, best.weighting) == (mine.curve, mine.weighting) and best.maturity != mine.maturity
        everything = self.everything
        for place, number in enumerate(self.limits.trial_batches):
            column = everything.trial_batches.index(number)
            at = self.fronts[place]
            if is_same and self.site_c is not None and number == taken.n_trial_batches:
                at = at[at != taken.which]
            at = at[(everything.rms[at, column] <= keys[0]) & (everything.over_beyond[at, column] <= keys[2])]
            figures = (everything.rms[at, column], everything.worst[at, column], everything.over_beyond[at, column])
            spent = (array[:, 0] for array in self.limits.spent(at, (number,)))
            yield Keyed(np.arange(len(at)), np.full(len(at), place), (*figures, *spent)), at

    def _judge_alone(self, taken: Taken) -> Programmes:
        return judge(
            self.cells, self.scoring, self.rule.matrix.choices, np.array([taken.which]), np.array([taken.joint]),
            self.rule.matrix.joints, judged_on=self.wanted.judged_on, trial_batches=(taken.n_trial_batches,),
        )  # fmt: skip

    def _near(self, without: tuple[int, ...] = ()) -> Lowest:
        """Schedules that own-batch losses do not tell from the best with as many specimens."""
        is_trained = np.isin(np.arange(self.cells.n_units), without, invert=True)
        lowest = self.rule.lowest(is_trained, judged=without[0] if len(without) == 1 else None)
        n_specimens = self.limits.n_specimens[self.rule.matrix.row_choice[lowest.rows]]
        near = near_as_many(lowest.loss, n_specimens, self.scoring.least_penalty_of(lowest.units))
        return Lowest(lowest.units, lowest.rows[near], lowest.loss[near])

    def cheapest_enough(self) -> Taken | None:
        """Of all schedules within the limits the cheapest that is good enough; among equals the lowest loss."""
        which, numbers = self.enough()
        if not which.size:
            return None
        score = self.rule.matrix.score[which]
        first = int(np.lexsort((score, *self.limits.price_keys(which, numbers)[::-1]))[0])
        return Taken(int(which[first]), int(self.rule.matrix.best_joint[which[first]]), int(numbers[first]))

    def fewest_enough(self) -> Taken | None:
        """The fewest specimens over all trial batches that are good enough, by the figures of fixed programmes."""
        decision = self.fixed().decide()
        few = None if decision is None else decision.fewest
        return None if few is None else Taken(few.which, few.joint, few.n_trial_batches)

    def enough(self) -> tuple[IntArray, IntArray]:
        """Every schedule within the limits that is good enough, and with how many trial batches."""
        which, column = np.nonzero(self.fixed().is_enough)
        return which, np.array(self.limits.trial_batches, dtype=np.int64)[column]

    def fixed(self) -> FixedProgrammes:
        """Every schedule with its curve of lowest loss, for every number of trial batches that the plan allows."""
        return FixedProgrammes.of(
            self.limits, self.everything, self.rule.matrix.best_joint, judged_on=self.wanted.judged_on,
            assurance=self.wanted.assurance,
        )  # fmt: skip

    def ladder(self) -> Ladder | None:
        """The rungs, and how they do where they are judged; None where there are none."""
        return self._ladder(self._near())

    def _ladder(self, near: Lowest, *, without: tuple[int, ...] = ()) -> Ladder | None:
        matrix = self.rule.matrix
        rungs = rungs_of(near.loss, self.rule.tier[matrix.row_choice[near.rows]])
        rows = near.rows[rungs]
        which, joint = matrix.row_choice[rows], matrix.row_joint[rows]
        if not len(rows):
            return None
        about = (self.cells, self.scoring, matrix.choices, which, joint, matrix.joints)
        judged = judge(
            *about, judged_on=self.wanted.judged_on, trial_batches=self.limits.trial_batches, without=without,
            n_workers=self.n_workers,
        )  # fmt: skip
        by_unit = judge_by_unit(
            *about, judged_on=self.wanted.judged_on, trial_batches=self.limits.trial_batches, without=without,
            n_workers=self.n_workers,
        )  # fmt: skip
        is_allowed = np.stack([self.limits.allows(which, m) for m in self.limits.trial_batches], axis=1)
        return Ladder(
            which=which,
            joint=joint,
            loss=near.loss[rungs],
            judged=judged,
            by_unit=by_unit,
            is_allowed=np.asarray(is_allowed & np.isfinite(judged.rms)),
        )
