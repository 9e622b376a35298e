"""What a trial file must hold before a curve is fitted to it, and what in it is odd. Every offender in one message."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from planner.curves.fitted_strength import fewest_ages_of
from planner.issued_curve.calibration.batch_fit import BatchFit
from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.terms.labels import age_label
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, Records
from planner.terms.results.recommendation import RatedChoice

NEAR = 0.02  # ages closer than this share are one
FALL = 0.98  # a mean below this share of a younger one is told


def check_trial(
    file: str,
    breaks: Sequence[Break],
    *,
    most_batches: int,
    choice: RatedChoice,
    geometry: str,
    final_set_h: float = 0.0,
) -> None:
    """Refuse a trial file that cannot be fitted.

    Parameters
    ----------
    file
        For messages.
    breaks
        Standard-cured and site-cured ones of the file.
    most_batches
        Trial batches that the plan allows.
    choice
        The recommended joint choice: its curve is fitted.
    geometry
        Of the earlier batches; "" where the records do not say.
    final_set_h
        Of the plan: concrete younger than that has no strength; 0 where the plan does not say.

    Raises
    ------
    InputError
        With every reason.
    """
    problems = [Problem(file, text) for text in _faults(breaks, most_batches, choice, geometry)]
    problems += _before_set(file, breaks, final_set_h)
    if problems:
        raise InputError(problems)


def _faults(breaks: Sequence[Break], most_batches: int, choice: RatedChoice, geometry: str) -> Iterator[str]:
    batches = dict.fromkeys(item.batch for item in breaks)
    if not batches:
        yield "There is no standard-cured or site-cured break. Give the breaks of the trial batch."
    if len(batches) > most_batches:
        asked = "one trial batch" if most_batches == 1 else f"{most_batches} trial batches at most"
        yield (
            f"There are {len(batches)} batches ({', '.join(batches)}) but the plan asks for {asked}. Give the trial "
            "batch alone, or set [programme] trial_batches."
        )
    fewest = fewest_ages_of(choice.curve)
    for batch in batches:
        ages = {item.age_h for item in breaks if item.batch == batch and item.curing == "standard"}
        if len(ages) < fewest:
            has = "no standard-cured break"
            if ages:
                has = f"standard-cured breaks at {_ages(sorted(ages))} alone"
            yield (
                f'Batch "{batch}" has {has}; the {choice.curve} curve needs {fewest} ages. Break the ages of the '
                "schedule, or void nothing that can be used."
            )
    shapes = sorted({item.geometry for item in breaks if item.geometry})
    if len(shapes) > 1 or (geometry and any(shape != geometry for shape in shapes)):
        yield (
            f"The specimens are {', '.join(shapes)}, the earlier batches {geometry or 'of no stated geometry'}. "
            "Nothing is converted: give the breaks of one geometry, that of the records."
        )


def _before_set(file: str, breaks: Sequence[Break], final_set_h: float) -> list[Problem]:
    """Breaks of concrete that has not set: as a rule their ages are in another unit."""
    early: dict[float, list[int]] = {}
    for item in breaks:
        if item.tested_h < final_set_h:
            early.setdefault(item.tested_h, []).append(item.row or 0)
    return [
        Problem(
            file,
            f"The break is at {age_h:.4g} h, before the final set of the plan ({final_set_h:g} h). Correct the age or "
            f"its unit ({24 * age_h:.4g} h if it was meant in days)."
            + ("" if len(rows) == 1 else f" The same in {len(rows) - 1} more rows."),
            row=rows[0] or None,
        )
        for age_h, rows in early.items()
    ]


def check_rising(file: str, means: BatchMeans) -> None:
    """Refuse means whose maturities do not rise with age."""
    late = np.flatnonzero(np.diff(means.maturity_h) <= 0)
    if late.size:
        raise InputError(
            Problem(
                file,
                f'Batch "{means.batch}" has no more maturity at {age_label(float(means.age_h[at + 1]))} '
                f"({means.maturity_h[at + 1]:.4g}) than at {age_label(float(means.age_h[at]))} "
                f"({means.maturity_h[at]:.4g}). Correct the temperatures, the maturities or the ages.",
            )
            for at in late.tolist()
        )


def trial_cautions(
    means: BatchMeans,
    fit: BatchFit,
    *,
    choice: RatedChoice,
    records: Records,
    mix: str,
    breaks: Sequence[Break],
    is_dated: bool,
) -> Iterator[Caution]:
    """What is odd about one trial batch.

    Parameters
    ----------
    records
        Of the earlier batches.
    mix
        That the plan is for; "" where it does not say.
    breaks
        Of the trial file.
    is_dated
        Whether the schedule is that for a casting time.
    """
    batch = means.batch
    planned = np.array(choice.schedule.ages_h)
    extra = [age for age in means.age_h.tolist() if not np.any(np.abs(planned / age - 1.0) <= NEAR)]
    missing = [age for age in planned.tolist() if not np.any(np.abs(means.age_h / age - 1.0) <= NEAR)]
    if extra:
        yield Caution(
            "ages-not-planned",
            f"Batch {batch} was broken at {_ages(extra)}, which the recommended schedule does not have; these breaks "
            "are used." + ("" if is_dated else " Where 'recommend' was given --cast, give 'curve' the same."),
        )
    if missing:
        yield Caution(
            "ages-missing",
            f"Batch {batch} was not broken at {_ages(missing)} of the recommended schedule: its error is then larger "
            "than stated. Break them while the concrete still has that age.",
        )
    fallen = np.flatnonzero(means.mean_mpa[1:] < FALL * means.mean_mpa[:-1])
    if fallen.size:
        yield Caution(
            "strength-falls",
            f"Batch {batch} is weaker at {_ages(means.age_h[fallen + 1].tolist())} than before. Look at the "
            "specimens and their ends, and void what was broken wrongly.",
        )
    if fit.fits_badly:
        yield Caution(
            "lack-of-fit",
            f"The means of batch {batch} depart from the {choice.curve} curve more than their specimens' scatter "
            f"explains (chance {fit.lack_of_fit:.1g}). Look at single ages and at the other curves before issuing.",
        )
    if fit.is_at_bound:
        yield Caution(
            "parameter-at-bound",
            f"A parameter of batch {batch} lies on its bound: the curve has the shape that the bound gives it, and "
            "the standard errors say little. Break more ages on the steep part.",
        )
    if batch in records.batches:
        yield Caution(
            "trial-among-records",
            f"Batch {batch} is among the earlier batches of the plan: the error figures have seen it. Take it out of "
            "[prior] breaks to judge it afresh.",
        )
    mixes = sorted({item.mix for item in breaks if item.batch == batch and item.mix})
    known = {item.mix for item in records.breaks if item.mix} | ({mix} if mix else set())
    if mixes and known and not known.intersection(mixes):
        yield Caution(
            "another-mix",
            f'Batch {batch} is of mix "{mixes[0]}", the plan and its records of "{", ".join(sorted(known))}". The '
            "error figures are those of the earlier mix.",
        )


def _ages(ages_h: Sequence[float]) -> str:
    return ", ".join(age_label(age) for age in ages_h)
