"""What is odd about one trial batch, one caution each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from planner.issued_curve.calibration.batch_fit import BatchFit
from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.terms.labels import age_label, ages_label
from planner.terms.problems import Caution
from planner.terms.records import Break, Records
from planner.terms.results.recommended.rated_choice import RatedChoice

NEAR = 0.02  # ages closer than this share are one
FALL = 0.98  # a mean below this share of a younger one is told


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
            f"Batch {batch} was broken at {ages_label(extra)}, which the recommended schedule does not have; these "
            "breaks are used." + ("" if is_dated else " Where 'recommend' was given --cast, give 'curve' the same."),
        )
    if missing:
        yield Caution(
            "ages-missing",
            f"Batch {batch} was not broken at {ages_label(missing)} of the recommended schedule: its error is then "
            "larger than stated. Break them while the concrete still has that age.",
        )
    fallen = np.flatnonzero(means.mean_mpa[1:] < FALL * means.mean_mpa[:-1])
    if fallen.size:
        yield Caution(
            "strength-falls",
            f"Batch {batch} is weaker at {ages_label(means.age_h[fallen + 1].tolist())} than before. Look at the "
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


def outside_records_cautions(means: BatchMeans, span_h: tuple[float, float]) -> Iterator[Caution]:
    """Breaks at maturities that the earlier batches do not have: pours are read without them.

    Parameters
    ----------
    span_h
        Least and most maturity of the earlier batches' breaks [h at the reference temperature].
    """
    least, most = span_h
    outside = [f"{age_label(age)} ({at:.1f} h)" for age, at in means.outside(span_h)]
    if outside:
        yield Caution(
            "trial-outside-records",
            f"Batch {means.batch} was broken at {', '.join(outside)} at the reference temperature; the earlier batches "
            f"were from {least:.1f} to {most:.1f} h. The curve uses these breaks, the reading of pours by their early "
            "breaks does not: the earlier batches say nothing there. Look at the temperatures first.",
        )
