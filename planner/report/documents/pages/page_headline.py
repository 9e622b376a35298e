"""What the page tells before anything else: what to cast, when to come in, how far to trust it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.costs.cost_sums import cost_when_cast
from planner.report.accounts.action_account import companion_words, next_money
from planner.report.accounts.clock.slip_account import DAY_AND_TIME as DUE
from planner.report.accounts.clock.slip_account import moved_words
from planner.report.accounts.full_account import cast_words, cost_words, hour_words
from planner.report.accounts.parts.headline_figures import later_figures, own_figures
from planner.report.text import words
from planner.terms.labels import age_label, clock_label
from planner.terms.results.recommended.recommendation import Recommendation


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakLine:
    """One age of the recommended schedule."""

    age: str
    n_specimens: int
    due: str  # on the clock of the first casting, else of the cheapest casting hour; "" without hours
    is_outside_hours: bool
    moved: str  # from where it was moved into laboratory hours, "" where it was not


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstScreen:
    """The words of the first screen."""

    cast: str
    cost: str  # "" without prices
    breaks: tuple[BreakLine, ...]
    visits: str
    figures: tuple[tuple[str, str], ...]  # (figure, what it is)
    sentence: str
    money: tuple[str, ...]  # what the next unit of money, or specimen, would do


def first_screen(advice: Recommendation, castings: Sequence[BreakTimes]) -> FirstScreen:
    """Put the answer in a few words."""
    return FirstScreen(
        cast=cast_words(advice),
        cost="" if advice.recommended.cost is None else cost_words(advice),
        breaks=_breaks(advice, castings),
        visits=_visits(advice, castings) + _companions(advice),
        figures=_figures(advice),
        sentence=words.clean(advice.honest.sentence),
        money=next_money(advice),
    )


def _breaks(advice: Recommendation, castings: Sequence[BreakTimes]) -> tuple[BreakLine, ...]:
    schedule = advice.recommended.schedule
    if castings:
        clock = [
            (clock_label(slot.starts_at, DUE), not slot.is_inside_hours, moved_words(slot))
            for slot in castings[0].slots
        ]
    elif advice.estimate is not None and advice.estimate.break_hours:
        clock = [(words.break_hour_words([hour]), hour.is_outside_hours, "") for hour in advice.estimate.break_hours]
    else:
        clock = [("", False, "")] * schedule.n_ages
    return tuple(
        BreakLine(age=age_label(age), n_specimens=count, due=due, is_outside_hours=is_outside, moved=moved)
        for age, count, (due, is_outside, moved) in zip(schedule.ages_h, schedule.specimens, clock, strict=True)
    )


def _visits(advice: Recommendation, castings: Sequence[BreakTimes]) -> str:
    if castings:
        first = castings[0]
        hours = (
            "the laboratory counts as always open"
            if first.is_always_open
            else f"{first.n_outside or 'none'} outside laboratory hours"
        )
        estimate = advice.estimate
        cost = None if estimate is None else estimate.total
        if estimate is not None and len(castings) == 1:
            cost = cost_when_cast(estimate, first)
        priced = "" if cost is None else f"; cost {words.money(cost, advice.currency)}"
        visits = f"Cast {clock_label(first.cast_at, DUE)}: {_counted(first.n_visits)}, {hours}{priced}."
        return f"{visits} Times: the first specimen goes in."
    text = f"{_counted(advice.recommended.n_visits)}"
    return f"{text}." if advice.estimate is None else f"{text}, {hour_words(advice.estimate)}."


def _companions(advice: Recommendation) -> str:
    beside = companion_words(advice)
    return f" {beside.capitalize()}, cured on site." if beside else ""


def _counted(n_visits: int) -> str:
    return "1 visit" if n_visits == 1 else f"{n_visits} visits"


def _figures(advice: Recommendation) -> tuple[tuple[str, str], ...]:
    own, later, factor = advice.honest.own_batch, advice.honest.next_batch, advice.honest.safe_reading_factor
    tolerance, wanted = words.share(advice.tolerance), words.whole_share(advice.assurance)
    found: list[tuple[str, str]] = []
    if later is None:
        found.append(("?", "error on a later pour of the mix: unknown"))
    elif (figures := later_figures(advice)) is not None:
        found += [
            (figures.rms, f"off on a later pour ({figures.named})"),
            (figures.share, f"of later pours {figures.verdict}"),
        ]
    if not words.is_error_promised(advice):
        found.append(("?", "error of the schedule: published growth promises none below 3 d"))
    elif own is None or (read := own_figures(advice)) is None:
        error = advice.recommended.error
        floor = ", the least they can resolve" if error.is_below_resolution else ""
        found.append((words.share(error.rms), f"off on these records (RMS{floor}); nothing could be held out"))
    else:
        rms, named = read
        found.append((rms, f"off on the own batch ({named})"))
        if later is None:
            share = words.whole_share(own.within_tolerance)
            found.append((share, f"of trial batches within {tolerance}; wanted {wanted}"))
    mixes = advice.honest.mixes
    if mixes is not None:
        where = "on the own batch" if mixes.basis == "own batch" else "on a later pour"
        bound = words.at_most(advice, mixes.quantile_upper_95)
        quantile = (words.share(mixes.quantile_abs), f"off at most for 8 in 10 mixes left out, {where}{bound}")
        found.insert(0 if mixes.is_heavy_tailed else len(found), quantile)
    if factor is not None:
        text = "the strength that is needed must be read off the curve"
        found.append((f"x {words.factor(factor)}", f"{text}; {words.weaker_words(advice.assurance)}"))
    return tuple(found)
