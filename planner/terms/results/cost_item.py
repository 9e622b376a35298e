"""One line of an estimate: what it is, which part of the money it belongs to, its number and price."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class CostPart(StrEnum):
    """Where a line of an estimate stands: the money limit holds for the calibration alone."""

    CALIBRATION = "calibration"
    CHECKS_AND_POURS = "checks and pours"
    CONTINGENCY = "contingency"


class CostKind(StrEnum):
    """What a line pays for. Whatever is decided about a line is decided by this: its name may be the reader's own."""

    SPECIMENS = "specimens"
    PREPARATION = "preparation"
    BREAKS = "breaks"
    VISITS = "visits"
    VISITS_OUTSIDE_HOURS = "visits outside hours"
    INSTRUMENTED = "instrumented"
    FIXED = "fixed"
    CASTING = "casting"
    CASTING_OUTSIDE_HOURS = "casting outside hours"
    OTHER = "other"  # of [[costs.other]], under the reader's name
    OTHER_PER_VISIT = "other, per visit"  # the same, for each attendance of the trial batches
    ACCEPTANCE = "acceptance"  # companions of the trial batches, by which their curves are accepted
    ACCEPTANCE_VISITS = "acceptance visits"
    ACCEPTANCE_VISITS_OUTSIDE_HOURS = "acceptance visits outside hours"
    SITE_CHECKS = "site checks"
    SITE_CHECK_VISITS = "site check visits"
    POUR_BREAKS = "pour breaks"  # early breaks of the later pours
    CONTINGENCY = "contingency"

    @property
    def is_acceptance(self) -> bool:
        """Whether the calibration is accepted by it: every trial batch that is cast anew pays it again."""
        return self in (
            CostKind.ACCEPTANCE,
            CostKind.ACCEPTANCE_VISITS,
            CostKind.ACCEPTANCE_VISITS_OUTSIDE_HOURS,
        )

    @property
    def is_casting(self) -> bool:
        """Whether it is the crew that casts the trial batches."""
        return self in (CostKind.CASTING, CostKind.CASTING_OUTSIDE_HOURS)

    @property
    def is_schedule_visit(self) -> bool:
        """Whether it counts attendances that break the schedule of the trial batches."""
        return self in (CostKind.VISITS, CostKind.VISITS_OUTSIDE_HOURS)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostItem:
    """One line of an estimate."""

    kind: CostKind
    name: str  # to be shown: of `CostKind.OTHER` the reader's own words
    quantity: float
    unit_price: float
    amount: float  # quantity times unit price
    part: CostPart = CostPart.CALIBRATION
    key: str = ""  # of [costs] that gives the price; "" where several do, or none of them
    is_untold: bool = False  # the quantity is not known: the line is open

    @property
    def is_open(self) -> bool:
        """The item is needed but has no price: it is not in the total."""
        return self.is_untold or (self.quantity > 0 and self.unit_price == 0)
