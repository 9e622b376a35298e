"""What a trial file must hold before a curve is fitted to it. Every offender in one message."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from planner.curves.fitted_strength import fewest_ages_of
from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.terms.labels import age_label, ages_label
from planner.terms.plan.settings import CurveName
from planner.terms.problems import InputError, Problem
from planner.terms.records import Break
from planner.terms.results.recommended.rated_choice import RatedChoice


def check_trial(
    file: str,
    breaks: Sequence[Break],
    *,
    most_batches: int,
    choice: RatedChoice,
    geometries: Sequence[str],
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
    geometries
        That breaks may be of: that of the earlier batches, "" where the records do not say; two where a curve is
        converted from the first to the second.
    final_set_h
        Of the plan: concrete younger than that has no strength; 0 where the plan does not say.

    Raises
    ------
    InputError
        With every reason.
    """
    problems = [Problem(file, text) for text in _faults(breaks, most_batches, choice, geometries)]
    problems += before_set(file, breaks, final_set_h)
    if problems:
        raise InputError(problems)


def _faults(
    breaks: Sequence[Break], most_batches: int, choice: RatedChoice, geometries: Sequence[str]
) -> Iterator[str]:
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
                has = f"standard-cured breaks at {ages_label(sorted(ages))} alone"
            yield (
                f'Batch "{batch}" has {has}; the {choice.curve} curve needs {fewest} ages. Break the ages of the '
                "schedule, or void nothing that can be used."
            )
    shapes = sorted({item.geometry for item in breaks if item.geometry})
    earlier = geometries[0] or "of no stated geometry"
    known = [shape for shape in geometries if shape]
    if len(shapes) > len(geometries) or (known and any(shape not in known for shape in shapes)):
        yield (
            f"The specimens are {', '.join(shapes)}, the earlier batches {earlier}. "
            "Nothing is converted: give the breaks of one geometry, that of the records."
        )


def before_set(file: str, breaks: Sequence[Break], final_set_h: float) -> list[Problem]:
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


def check_inside(file: str, means: BatchMeans, curve: CurveName, span_h: tuple[float, float]) -> None:
    """Refuse means where a curve with a prior has learnt nothing: it would be carried on without a word.

    Parameters
    ----------
    span_h
        Least and most maturity of the earlier batches' breaks [h at the reference temperature].
    """
    least, most = span_h
    outside = means.outside(span_h)
    if outside:
        raise InputError(
            Problem(
                file,
                f'Batch "{means.batch}" has a maturity of {at:.1f} h at the reference temperature at {age_label(age)}; '
                f"the earlier batches, from which the {curve} curve has learnt, were broken from {least:.1f} to "
                f"{most:.1f} h. Correct the temperatures, or void this break and break another age.",
            )
            for age, at in outside
        )


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
