"""A trial batch whose first breaks are in: what to break now."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from planner.choices import ChoiceSet, choice_set
from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.batch_means import BatchMeans, batch_means
from planner.issued_curve.calibration.usable_breaks import usable_breaks
from planner.mixed_model import CellMeans
from planner.terms.arrays import FloatArray
from planner.terms.labels import age_label
from planner.terms.problems import InputError, Problem
from planner.terms.records import Break, GivenRecords
from planner.terms.results.after_casting.continuing import BrokenMean, TrialAnswer, TrialFigures
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.terms.worded import worded
from planner.verdict.answers.continuing.beginnings import earlier_batches, rescored
from planner.verdict.answers.continuing.rescored import Decision, Rescored
from planner.verdict.selection.search import Search
from planner.verdict.validation.one_mix import why_not_one_mix
from planner.verdict.wording.continuing_words import why_words

FEWEST_BATCHES = 3
Cost = Callable[[ChoiceSet], FloatArray | None]  # money of every schedule


def continue_trial(search: Search, advice: Recommendation, given: GivenRecords, *, cost: Cost) -> TrialAnswer:
    """Score again what can still be broken of a trial batch.

    Parameters
    ----------
    advice
        The recommendation that the batch was cast after.
    given
        What is broken of it so far, from :func:`planner.read.load_later`.
    cost
        Prices schedules.

    Raises
    ------
    InputError
        Where the file does not hold standard-cured breaks of one batch of the plan's concrete, or the records cannot
        say how batches of one mix differ.
    """
    choice, plan = advice.recommended, search.plan
    standard_c = plan.settings.prior.standard_curing_c
    break_maturity = BreakMaturity(given.records.curing_records, standard_c)
    usable = usable_breaks(given, break_maturity, choice.maturity, standard_c=standard_c)
    standard = [item for item in usable.breaks if item.curing == "standard"]
    why_not = why_not_one_mix(search, fewest=FEWEST_BATCHES)
    faults = [*_faults(standard, advice)]
    if why_not is not None:
        raise InputError(
            [
                *(Problem(given.file, text) for text in faults),
                Problem(given.file, f"What remains of a trial batch cannot be scored again: {why_not}."),
            ]
        )
    if faults:
        raise InputError(Problem(given.file, text) for text in faults)
    means = batch_means(standard, break_maturity, choice.maturity, search.cells.scatter)
    known = [i for i, age in enumerate(means.age_h) if np.any(np.isclose(search.cells.ages_h, age))]
    if not known:
        raise InputError([Problem(given.file, _no_known_age(search, means))])
    odd = list(_unreadable(search, means, choice))
    if odd:
        raise InputError(Problem(given.file, text) for text in odd)
    return _answer(search, advice, means, known, cost)


def _answer(search: Search, advice: Recommendation, means: BatchMeans, known: Sequence[int], cost: Cost) -> TrialAnswer:
    choice = advice.recommended
    earlier = earlier_batches(search, choice)
    broken = CellMeans(maturity_h=means.maturity_h, mean_mpa=means.mean_mpa, n_specimens=means.n_specimens)
    test = earlier.stranger(broken)
    found = rescored(search, choice, {float(means.age_h[i]): int(means.n_specimens[i]) for i in known})
    if found is None:
        raise InputError([Problem("trial", "No earlier batch holds the ages that remain. Go on as planned.")])
    table, units = found
    places = [earlier.names.index(search.cells.unit_names[unit]) for unit in units]
    weights = earlier.weights(broken, means.age_h.tolist())[places]
    weights /= weights.sum()
    alike = np.full(len(units), 1.0 / len(units))
    decision = Decision("stop", table.planned) if test.is_stranger else table.decide(weights)
    figures = TrialFigures(
        batch=means.batch,
        broken=_broken(means, np.exp(earlier.prior.at(means.maturity_h)[0]).tolist()),
        action=decision.action,
        planned=choice.schedule,
        remaining=_after(table.schedule(decision.row), float(means.age_h[-1])),
        error_before=table.rms(table.planned, alike),
        error_as_planned=table.rms(table.planned, weights),
        error_after=table.rms(decision.row, weights),
        likeness=tuple((earlier.names[place], float(share)) for place, share in zip(places, weights, strict=True)),
        stranger=test.is_stranger,
        noticed_deficit=test.noticed_deficit,
        n_rescored=len(table.choices),
        cost_change=_cost_change(table, decision.row, cost),
    )
    return worded(TrialAnswer, figures, why=tuple(why_words(figures, currency=advice.currency)))


def _faults(breaks: Sequence[Break], advice: Recommendation) -> Iterator[str]:
    batches = dict.fromkeys(item.batch for item in breaks)
    if not batches:
        yield "There is no standard-cured break yet. Give the first breaks of the trial batch."
    if len(batches) > 1:
        yield f"There are {len(batches)} batches ({', '.join(batches)}). Give the one that is being broken, alone."
    shapes, geometry = sorted({item.geometry for item in breaks if item.geometry}), advice.valid_for.geometry
    if len(shapes) > 1 or (geometry and any(shape != geometry for shape in shapes)):
        yield (
            f"The specimens are {', '.join(shapes)}, the earlier batches {geometry or 'of no stated geometry'}. "
            "Nothing is converted: give the breaks of one geometry, that of the records."
        )


def _unreadable(search: Search, means: BatchMeans, choice: RatedChoice) -> Iterator[str]:
    """First breaks that the earlier batches say nothing of, each with its figure."""
    whole = search.cells.views.whole
    held = whole.maturity_h[search.cells.settings.index(choice.maturity)][whole.n_specimens > 0]
    least, most = float(held.min()), float(held.max())
    for age, at in means.outside((least, most)):
        yield (
            f"The break at {age_label(age)} has a maturity of {at:.1f} h at the reference temperature; the earlier "
            f"batches were broken from {least:.1f} to {most:.1f} h and say nothing of it. Give its "
            "temperatures or correct them, or go on as planned and leave this break out here."
        )


def _no_known_age(search: Search, means: BatchMeans) -> str:
    given = ", ".join(age_label(age) for age in means.age_h.tolist())
    held = ", ".join(age_label(float(age)) for age in search.cells.ages_h)
    return f"No earlier batch was broken at {given}. Recorded ages: {held}."


def _broken(means: BatchMeans, expected_mpa: Sequence[float]) -> tuple[BrokenMean, ...]:
    return tuple(
        BrokenMean(age_h=age, maturity_h=maturity, mean_mpa=mean, n_specimens=int(count), expected_mpa=expected)
        for age, maturity, mean, count, expected in zip(
            means.age_h.tolist(),
            means.maturity_h.tolist(),
            means.mean_mpa.tolist(),
            means.n_specimens.tolist(),
            expected_mpa,
            strict=True,
        )
    )


def _after(schedule: Schedule, last_h: float) -> Schedule | None:
    """What of a schedule is still to be broken; None where nothing is."""
    rest = [(age, n) for age, n in zip(schedule.ages_h, schedule.specimens, strict=True) if age > last_h]
    return Schedule(tuple(age for age, _ in rest), tuple(n for _, n in rest)) if rest else None


def _cost_change(table: Rescored, row: int, cost: Cost) -> float | None:
    """Money of the schedule taken less that of the plan as it stands, for one trial batch."""
    pair = [table.choices.row(at) for at in (table.planned, row)]
    choices = choice_set(table.choices.ages_h, [(places.tolist(), counts.tolist()) for places, counts in pair])
    money = cost(choices)
    return None if money is None else float(money[1] - money[0])
