"""Everything a caution may look at."""

from __future__ import annotations

from dataclasses import dataclass

from planner.evidence import Cells
from planner.population import Basis
from planner.resampling import ErrorMatrix
from planner.terms.plan.settings import Settings
from planner.terms.records import Records
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest


@dataclass(frozen=True, slots=True, eq=False)
class Circumstances:
    """Everything a caution may look at."""

    settings: Settings
    records: Records
    basis: Basis
    matrix: ErrorMatrix
    recommended: RatedChoice
    honest: Honest
    is_thinned: bool = False  # schedules as cheap as the recommended were let go of, there were so many
    geometries: GeometryAnswer | None = None

    @property
    def geometry(self) -> str:
        """What is broken for the curve; "" where the records hold several and none is selected, or name none."""
        found = {item.geometry for item in self.records.breaks}
        selected = self.settings.prior.geometry
        if len(found) > 1:
            return selected if selected in found else ""
        return found.pop() if found else ""

    def as_broken(self, mpa: float) -> float:
        """A strength of the curve as the specimens show it, where they are of another geometry than it reads [MPa]."""
        conversion = None if self.geometries is None else self.geometries.conversion
        return mpa if conversion is None else conversion.back(mpa)

    @property
    def cells(self) -> Cells:
        return self.basis.cells

    @property
    def batches(self) -> tuple[str, ...]:
        """Batches that were cast and broken, not drawn ones."""
        population = self.basis.population
        if population is None:
            return tuple(dict.fromkeys(self.cells.views.batch))
        return population.breaks.batches if population.breaks else ()
