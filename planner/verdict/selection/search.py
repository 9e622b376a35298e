"""What the search found, and what is needed to speak of it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.population import Basis
from planner.resampling import Draws, ErrorMatrix, Scoring
from planner.resampling.search.error_matrix import Progress
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Plan
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.verdict.design.efficiency import PlacementLimit
from planner.verdict.selection.programmes.programme import Chosen, Taken
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from planner.verdict.selection.programmes.set_counts import Counted
from planner.verdict.selection.rule import Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Asks:
    """What a schedule asks of the laboratory, and how it stands beside others."""

    cost: float | None  # None without prices
    n_visits: int
    efficiency: float | None  # share of the least possible variance; None where the limit is not known
    is_beaten: bool = False  # another is no worse in anything judged or spent, and better in something


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Search:
    """Every choice scored and priced."""

    plan: Plan
    basis: Basis
    offered: IntArray  # positions of the ages that may be broken
    scoring: Scoring
    rule: Rule
    listed: ChoiceSet  # every schedule that the limits allow; the rule keeps those that anything is asked of
    programmes: ProgrammeRule | None  # None where batches are drawn
    chosen: Chosen | None  # what it takes
    draws: Draws
    cost: FloatArray | None  # of every schedule, with as many trial batches as are recommended
    n_visits: IntArray  # of every schedule
    is_thinned: bool  # rows as cheap as what is taken were let go of: what ties with it or beats it may be missed
    n_trial_batches: int  # that the recommended programme has
    seed: int
    n_workers: int
    progress: Progress | None
    geometries: GeometryAnswer | None  # what this geometry was chosen among; None: the records hold one
    counted: Counted | None = None  # of all programmes, where the least is asked of a search that let some go

    @property
    def cells(self) -> Cells:
        return self.basis.cells

    @property
    def matrix(self) -> ErrorMatrix:
        return self.rule.matrix

    def cost_of(self, which: int) -> float | None:
        """Of one schedule; None without prices."""
        return None if self.cost is None else float(self.cost[which])

    def row_of(self, taken: Taken) -> int:
        """Row of the matrix that a programme's schedule and curve stand in."""
        return self.rule.row_of(taken.which, taken.joint)

    def is_beaten(self, row: int) -> bool:
        """Whether another programme is no worse than this row in anything judged or spent, and better in something."""
        if self.programmes is None:
            return False
        taken = Taken(self.matrix.choice_of(row), int(self.matrix.row_joint[row]), self.n_trial_batches)
        return self.programmes.is_beaten(taken)

    def asks(self, row: int, limit: PlacementLimit | None) -> Asks:
        """What the laboratory, the limit and the other programmes say of a row of the matrix."""
        which = self.matrix.choice_of(row)
        return Asks(
            cost=self.cost_of(which),
            n_visits=int(self.n_visits[which]),
            efficiency=None if limit is None else limit.efficiency_of(self.matrix.choices.schedule(which)),
            is_beaten=self.is_beaten(row),
        )
