"""A pour read by the issued curve, multiplied by what its early breaks are of the strength read there.

    log reading = log S(M) + sum w_i (log mean_i - log S(M_i)),    w_i = (n_i / CV_i^2) / sum n / CV^2
    variance    = remainder + sum w_i^2 CV_i^2 / n_i

The remainder is what held-out pours were off after the same shift at the same target, the scatter of their early
specimens taken out; as many pours stand behind it as there are earlier batches, so the law is Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.pour_answer import EarlyCell, Unread
from planner.maturity.inside_records import is_inside
from planner.mixed_model import GrowthPrior, Reading
from planner.mixed_model.carried_prior import prior_of
from planner.terms.results.after_casting.pour_model import PourModel

AGE_SLACK = 0.15  # an early break counts as one of the judged ages where it is at most so far from it, relative


@dataclass(frozen=True, slots=True, eq=False)
class RescaledReader:
    """The curve, and what its shift to early breaks leaves."""

    curve: IssuedCurve
    model: PourModel
    prior: GrowthPrior  # its scatter of single specimens

    @classmethod
    def of(cls, curve: IssuedCurve, model: PourModel) -> RescaledReader:
        return cls(curve, model, prior_of(model))

    def why_not(self, before: Sequence[EarlyCell], age_h: float | None, maturity_h: float) -> Unread | None:
        """Why the pour is not read at an age and its maturity [h] from the breaks before it; None where it is."""
        if not self._holds([maturity_h, *(cell.maturity_h for cell in before)]):
            return Unread.OUTSIDE_CURVE
        return Unread.NOT_JUDGED if self.remainder(before, age_h, maturity_h) is None else None

    def remainder(self, before: Sequence[EarlyCell], age_h: float | None, maturity_h: float) -> float | None:
        """Variance between batches that the shift leaves, None where nobody judged it.

        At an age that is no target, and up to the maturity of the last one, it is the largest of the targets.
        """
        ages = {self._judged_age(cell.age_h) for cell in before}
        found = {item.target_h: item.variance for item in self.model.remainders if {*item.ages_h} == ages}
        if age_h is not None and age_h in found:
            return found[age_h]
        is_between = bool(found) and maturity_h <= self.curve.maturity_of_age(max(found)) * (1.0 + 1e-9)
        return max(found.values()) if is_between else None

    def read(self, before: Sequence[EarlyCell], age_h: float | None, maturity_h: float) -> Reading:
        """Reading of the pour where :meth:`why_not` speaks against nothing."""
        left = self.remainder(before, age_h, maturity_h)
        assert left is not None  # said by the caller
        at = np.array([cell.maturity_h for cell in before])
        scatter = self.prior.cv_at(at) ** 2 / np.array([cell.n_specimens for cell in before])
        weight = (1.0 / scatter) / np.sum(1.0 / scatter)
        ratio = np.log([cell.mean_mpa for cell in before]) - np.log(self.curve.strength(at))
        log_mpa = np.log(self.curve.strength(np.array([maturity_h]))) + weight @ ratio
        variance = self.model.widening * (left + float(weight**2 @ scatter))
        return Reading(log_mpa=log_mpa, log_sd=np.array([np.sqrt(variance)]), n_freedom=self.model.n_batches - 1)

    def _holds(self, maturities_h: Sequence[float]) -> bool:
        """Whether the curve was broken there; a little before its first break is let off, as for the records."""
        return all(is_inside(at, self.curve.span_h) for at in maturities_h)

    def _judged_age(self, age_h: float) -> float | None:
        """The judged early age that a break counts as."""
        judged = sorted({age for item in self.model.remainders for age in item.ages_h})
        nearest = min(judged, key=lambda age: abs(age - age_h))
        return nearest if abs(nearest - age_h) <= AGE_SLACK * nearest else None
