"""The records as a calibration with one geometry would have them, every strength in the target's geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import fmean

import numpy as np

from planner.conversion.conversion import Conversion
from planner.conversion.pairs import Place, groups_of
from planner.terms.records import Break, Records


def converted_records(
    records: Records, conversion: Conversion, *, common: float = 0.0, not_credited: float = 0.0
) -> Records:
    """Convert the breaks of one geometry, and take measured truths of the target's geometry where there are any.

    Site-cured specimens tell the truth. Those of the target's geometry tell it as it is, and so carry the error of the
    conversion into every reading that is held against them. Where a batch has none, its own geometry's are
    converted, and `Break.conversion_cv` says how far off that may be.

    Parameters
    ----------
    common
        Covariance of curve and conversion over batches, relative; above 0 it is counted twice where truths are
        converted, as they cannot show it.
    not_credited
        Variance, relative, by which measured truths are spread: where errors of curve and conversion happen to cancel
        in a few batches, the total would else come out below the curve's own error.
    """
    own, wanted = (groups_of(records.breaks, name) for name in (conversion.from_geometry, conversion.to_geometry))
    cv = {place: _converted_cv(place, items, conversion, common) for place, items in own.items()}
    kept: list[Break] = []
    for item in records.breaks:
        place = (item.batch, item.curing, item.placement, item.age_h)
        is_truth = item.curing == "site" and place in wanted
        if item.geometry == conversion.to_geometry and is_truth:
            aligned = conversion.aligned(item.batch, item.strength_mpa)
            kept.append(replace(item, strength_mpa=aligned, conversion_cv=float(np.sqrt(not_credited))))
        elif item.geometry == conversion.from_geometry and not is_truth:
            converted = float(conversion.convert(item.strength_mpa))
            kept.append(replace(item, strength_mpa=converted, conversion_cv=cv[place]))
    return replace(records, breaks=tuple(kept))


def _converted_cv(place: Place, items: Sequence[Break], conversion: Conversion, common: float) -> float:
    mean = fmean(item.strength_mpa for item in items)
    return float(np.sqrt(float(conversion.variance(mean, place[3])) + 2.0 * max(common, 0.0)))


def records_of(records: Records, geometry: str) -> Records:
    """The breaks of one geometry alone."""
    return replace(records, breaks=tuple(item for item in records.breaks if item.geometry == geometry))


def shared_departure(records: Records, conversion: Conversion, *, target_age_h: float) -> float:
    """Covariance over batches of strength and of what the conversion leaves, both relative; 0 where nothing tells.

    A batch stronger than the others is read too low by their curve. Where its conversion, too, is low, the errors
    add up. The strength is that of standard-cured specimens at the age nearest to the target.
    """
    if conversion.pairs is None:
        return 0.0
    residual = conversion.judged[conversion.line.form].residual
    left = {
        batch: float(np.mean(residual[[name == batch for name in conversion.pairs.batch]]))
        for batch in conversion.pairs.batches
    }
    groups = groups_of(records.breaks, conversion.from_geometry)
    standard = {(batch, age): items for (batch, curing, _, age), items in groups.items() if curing == "standard"}
    held = [age for age in {age for _, age in standard} if all((batch, age) in standard for batch in left)]
    if not held:
        return 0.0
    age_h = min(held, key=lambda age: (abs(np.log(age / target_age_h)), age))
    strength = {batch: np.log(fmean(item.strength_mpa for item in standard[batch, age_h])) for batch in left}
    a = np.array([strength[batch] for batch in left])
    c = np.array([left[batch] for batch in left])
    return float(-(a - a.mean()) @ (c - c.mean()) / (len(left) - 1))
