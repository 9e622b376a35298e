"""An estimate worked out from the text of a plan alone: prices times numbers, attendances found minute by minute."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

# ASTM C39, permitted deviations [min]: 24 h, 3, 7, 28 d read in a secondary source, 12 h and 2 % of others from memory
DEVIATION_MIN = {12: 15, 24: 30, 72: 120, 168: 360, 672: 1200}
WEEK_BEGINS = dt.datetime(2024, 1, 1, tzinfo=dt.UTC)  # a Monday
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WASTE = 1.1
NIGHT, DAY = "outside", "inside"


@dataclass(frozen=True)
class Money:
    """What a programme costs."""

    calibration: float
    beside: float
    contingency: float

    @property
    def in_all(self) -> float:
        return self.calibration + self.beside + self.contingency


@dataclass(frozen=True)
class PlainEstimate:
    """A plan as TOML gives it; `kind` replaces the prices and minutes of the geometry that is cast."""

    plan: dict[str, Any]
    litres: float = 0.0  # of one specimen, without waste
    kind: dict[str, Any] = field(default_factory=dict)

    def price(self, key: str) -> float:
        return self.kind.get(key, self.plan["costs"].get(key, 0.0))

    def other(self, basis: str) -> float:
        return sum(item["amount"] for item in self.plan["costs"].get("other", []) if item["per"] == basis)

    def money(
        self, ages_h, counts, *, n_batches: int = 1, castings: list[dt.datetime] | None = None, n_early: int = 0
    ) -> Money:
        """The whole sum; `castings` are wall-clock times, those of batches beyond them as the last."""
        programme, costs = self.plan.get("programme", {}), self.plan["costs"]
        n = sum(counts)
        spares = math.ceil(float(str(programme.get("spares", "0 %")).split()[0]) * n / 100 - 1e-9)
        instrumented = programme.get("instrumented", 2)
        made = n + spares + instrumented
        times = castings or [self.cheapest_hour(ages_h, counts)]
        times = [times[min(k, len(times) - 1)] for k in range(n_batches)]
        is_dated = castings is not None
        calibration = self.other("programme")
        for at in times:
            visits = self.attendances(ages_h, counts, at, is_dated=is_dated)
            calibration += made * (self.price("specimen") + self.other("specimen"))
            calibration += made * self.other("litre") * self.litres * WASTE
            calibration += n * (self.price("preparation") + self.price("break"))
            calibration += visits.count(DAY) * self.price("visit") + visits.count(NIGHT) * self.price(
                "visit_outside_hours"
            )
            calibration += len(visits) * self.other("visit") + instrumented * self.price("instrumented")
            calibration += self.price("fixed") + self.other("batch") + self.crew(at, is_dated=is_dated)
        beside = sum(self.acceptance(at, is_dated=is_dated) for at in times)
        each = self.price("specimen") + self.price("preparation") + self.price("break")
        n_checks = programme.get("checks", 0)
        check_visit = costs.get("check_visit", self.price("visit"))
        beside += n_checks * (programme.get("companions_per_check", 0) * each + check_visit)
        beside += self.plan.get("pours", {}).get("number", 0) * n_early * costs.get("pour_break", each)
        share = float(str(costs.get("contingency", "0 %")).split()[0]) / 100
        return Money(calibration, beside, share * (calibration + beside))

    def companions(self, at: dt.datetime, *, is_dated: bool) -> list[str]:
        """Attendances to break the companions of one trial batch."""
        n_each = self.plan.get("programme", {}).get("companions_per_check", 0)
        targets = [hours(text) for text in self.plan["target"]["ages"]]
        return self.attendances(targets, [n_each] * len(targets), at, is_dated=is_dated) if n_each else []

    def acceptance(self, at: dt.datetime, *, is_dated: bool) -> float:
        """Companions of one trial batch at the targets, and the attendances to break them."""
        n_each = self.plan.get("programme", {}).get("companions_per_check", 0)
        if not n_each:
            return 0.0
        targets = self.plan["target"]["ages"]
        each = sum(self.price(key) for key in ("specimen", "preparation", "break")) + self.other("specimen")
        each += self.other("litre") * self.litres * WASTE
        visits = self.companions(at, is_dated=is_dated)
        inside = self.plan["costs"].get("check_visit", self.price("visit"))
        return (
            n_each * len(targets) * each
            + visits.count(DAY) * inside
            + visits.count(NIGHT) * self.price("visit_outside_hours")
            + len(visits) * self.other("visit")
        )

    def crew(self, at: dt.datetime, *, is_dated: bool) -> float:
        """The casting itself."""
        is_inside = any(opens <= at <= closes for opens, closes in self.shifts(at, 1, is_dated=is_dated))
        inside = self.price("casting")
        return inside if is_inside else self.plan["costs"].get("casting_outside_hours", inside)

    def cheapest_hour(self, ages_h, counts) -> dt.datetime:
        """Every half hour of the opening hours of a week: least money, then fewest calls, visits, then the companions'.

        What is still equal is cast at the earliest.
        """
        opens, closes = self.hours()
        found = []
        for step in range(7 * 48):
            at = WEEK_BEGINS + step * dt.timedelta(minutes=30)
            if not (self.is_worked(at.date()) and opens <= at.time() <= closes):
                continue
            visits = self.attendances(ages_h, counts, at, is_dated=False)
            money = visits.count(DAY) * self.price("visit") + visits.count(NIGHT) * self.price("visit_outside_hours")
            money += len(visits) * self.other("visit") + self.crew(at, is_dated=False)
            beside, called = round(self.acceptance(at, is_dated=False), 6), self.companions(at, is_dated=False)
            found.append((round(money, 6), visits.count(NIGHT), len(visits), beside, len(called), step, at))
        return min(found)[-1]

    def hours(self) -> tuple[dt.time, dt.time]:
        opens, closes = self.plan["laboratory"]["open"].split("-")
        return dt.time.fromisoformat(opens), dt.time.fromisoformat(closes)

    def is_worked(self, date: dt.date) -> bool:
        first, last = (DAYS.index(day) for day in self.plan["laboratory"]["days"].split("-"))
        return first <= date.weekday() <= last

    def shifts(self, at: dt.datetime, n_days: int, *, is_dated: bool) -> list[tuple[dt.datetime, dt.datetime]]:
        """Opening hours from the day before casting on."""
        zone = at.tzinfo
        closed = self.plan["laboratory"].get("closed", []) if is_dated else []
        opens, closes = self.hours()
        days = [at.astimezone(zone).date() + dt.timedelta(days=k) for k in range(-1, n_days + 2)]
        worked = [day for day in days if self.is_worked(day) and day.isoformat() not in closed]
        return [
            tuple(dt.datetime.combine(day, clock, zone).astimezone(dt.UTC) for clock in (opens, closes))
            for day in worked
        ]

    def attendances(self, ages_h, counts, at: dt.datetime, *, is_dated: bool) -> list[str]:
        """Inside or outside hours, one for every attendance."""
        minute = dt.timedelta(minutes=1)
        laboratory = self.plan["laboratory"]
        each = self.kind.get("minutes_per_break", laboratory.get("minutes_per_break", 10))
        removal_h = hours(laboratory["form_removal"]) if "form_removal" in laboratory else 0.0
        shifts = self.shifts(at, math.ceil(max(ages_h) / 24) + 2, is_dated=is_dated)
        found, before = [], None
        for age_h, count in zip(ages_h, counts, strict=True):
            due = at.astimezone(dt.UTC) + dt.timedelta(hours=age_h)
            needed = math.ceil(count / laboratory.get("machines", 1)) * each * minute
            away = DEVIATION_MIN.get(age_h, 0.02 * 60 * age_h) * minute
            earlier = min(away, (age_h - removal_h) * 60 * minute) if age_h >= removal_h else away
            place = self._shift(due, needed, away, earlier, shifts)
            now = (place, due)
            if place is None:
                if not (before and before[0] is None and due - before[1] <= 60 * minute):
                    found.append(NIGHT)
            elif not (before and before[0] == place):
                found.append(DAY)
            before = now
        return found

    @staticmethod
    def _shift(due, needed, away, earlier, shifts) -> int | None:
        """Which opening hours the breaks fall in: those of the age itself, else the nearest that the window reaches."""
        slack = max(2 * away, needed)  # specimens that take longer than the window are centred on the age
        first, last = due - slack / 2, due + slack / 2
        options = []
        for place, (opens, closes) in enumerate(shifts):
            if opens <= due <= closes:
                if max(first, opens) <= min(last, closes) - needed:
                    return place
            elif closes < due and closes - needed >= max(due - earlier, opens):
                options.append((due - closes, place))
            elif opens > due and opens + needed <= min(due + away, closes):
                options.append((opens - due, place))
        return min(options)[1] if options else None


def hours(text: str) -> float:
    number, unit = text.split()
    return float(number) * {"h": 1, "d": 24}[unit]


def local(plan: dict[str, Any], text: str) -> dt.datetime:
    """A wall-clock time of the plan's laboratory."""
    return dt.datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(plan["laboratory"]["time_zone"]))
