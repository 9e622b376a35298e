"""A calibration brought to its end: the issued curve with everything that sheet, screen and document say of it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.issued_curve.calibration.batch_fit import BatchFit, OtherCurve
from planner.issued_curve.calibration.batch_means import Group
from planner.issued_curve.calibration.early_correction import EarlyCorrection
from planner.issued_curve.calibration.expectation import Expectation, Likeness
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.readings import HoursRow, Reading, TableRow
from planner.issued_curve.rules.acceptance import Acceptance
from planner.issued_curve.rules.alarm_chances import AlarmChances
from planner.issued_curve.rules.customary_rule import CustomaryRule
from planner.terms.problems import Caution
from planner.terms.results.recommended.evidence_figures import EvidenceGrade


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IssueFigures:
    """An issued curve and what it rests on."""

    curve: IssuedCurve
    fits: tuple[BatchFit, ...] = ()  # one for each trial batch
    others: tuple[tuple[OtherCurve, ...], ...] = ()  # every curve on the same means, one tuple for each trial batch
    groups: tuple[Group, ...] = ()  # site-cured companions, in order of age
    acceptance: Acceptance | None = None  # None: no trial batch, or its own-batch error is not known
    customary: CustomaryRule | None  # for one check of a later pour
    alarms: AlarmChances | None  # of the site checks; None: the later-pour error is not known
    check_sd: float | None  # standard deviation of one site check, relative
    expectations: tuple[Expectation, ...] = ()  # one for each trial batch
    table: tuple[TableRow, ...]
    readings: tuple[Reading, ...]
    hours: tuple[HoursRow, ...]
    grade: EvidenceGrade  # of the earlier batches behind the error figures
    recalibrate_when: tuple[str, ...]
    standing_cautions: tuple[str, ...]
    has_early_breaks: bool = False  # the plan breaks specimens of every later pour before it is read
    n_spares: int = 0  # cast with each trial batch, as planned
    early_correction: EarlyCorrection | None = None  # of the sheet; None: the laboratory reads each pour

    @property
    def is_stranger(self) -> bool:
        """Whether a trial batch departs from the earlier ones beyond chance."""
        return any(item.likeness is Likeness.STRANGER for item in self.expectations)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Issue(IssueFigures):
    """The same with its cautions. Renderers decide nothing; whatever they say stands here."""

    cautions: tuple[Caution, ...]
