"""The conversions between what could be cast and what the specification speaks of, and their figures."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean

import numpy as np
from scipy.special import stdtrit

from planner.conversion.conversion import Conversion, estimated_conversion, stated_conversion
from planner.conversion.pairs import Pairs, groups_of, pairs_of
from planner.terms.plan.settings import Settings
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.records import Records
from planner.terms.results.geometry.conversion_figures import (
    AgeResidual,
    ConversionFigures,
    ConvertedStrength,
    PairPoint,
)

N_LINES = 6  # of the table of strengths
BAND = 0.90  # of new batches lie within
FURTHER = (2, 5, 10)  # batches with pairs


def conversion_for(records: Records, settings: Settings, kind: SpecimenKind) -> Conversion | None:
    """How one geometry is converted to the target's: by pairs, else as stated; None where neither is there."""
    wanted = settings.target.geometry
    stated = {one.geometry: one.within_test_cv for one in settings.specimens}
    pairs = pairs_of(records.breaks, kind.geometry, wanted, from_cv=stated.get(kind.geometry), to_cv=stated.get(wanted))
    found = estimated_conversion(kind.geometry, wanted, pairs)
    if found is None and kind.factor is not None and kind.factor_cv is not None:
        return stated_conversion(kind.geometry, wanted, factor=kind.factor, factor_cv=kind.factor_cv)
    return found


def stated_conversions(records: Records, settings: Settings) -> tuple[ConversionFigures, ...]:
    """Figures of every conversion that the records or the plan give, in the order of the plan."""
    kinds = [kind for kind in settings.specimens if kind.geometry != settings.target.geometry]
    found = [conversion_for(records, settings, kind) for kind in kinds]
    return tuple(conversion_figures(one, records, settings.target.ages_h) for one in found if one is not None)


def conversion_figures(conversion: Conversion, records: Records, target_ages_h: Sequence[float]) -> ConversionFigures:
    """Put figures to one conversion."""
    pairs = conversion.pairs
    deciding = tuple(
        (age, mpa, float(np.sqrt(conversion.variance(mpa, age))))
        for age in target_ages_h
        if (mpa := usual_strength(records, conversion.from_geometry, age)) is not None
    )
    return ConversionFigures(
        from_geometry=conversion.from_geometry,
        to_geometry=conversion.to_geometry,
        form=conversion.form,
        n_pairs=0 if pairs is None else len(pairs),
        n_batches=conversion.n_batches,
        ratio=conversion.line.factor if pairs is None else conversion.judged["ratio"].whole.factor,
        ratio_se=None if pairs is None else _ratio_error(conversion),
        power=_power(conversion),
        rms_left_out=tuple((form, judged.rms) for form, judged in conversion.judged.items()),
        deciding=deciding,
        between_batch_cv=conversion.line.between,
        span_mpa=(0.0, 0.0) if pairs is None else (float(pairs.from_mpa.min()), float(pairs.from_mpa.max())),
        table=() if pairs is None else _table(conversion, pairs, deciding),
        pairs=() if pairs is None else _points(conversion, pairs),
        by_age=() if pairs is None else _by_age(conversion, pairs),
        drift_per_decade=conversion.drift * np.log(10.0) if conversion.drift else None,
        more_pairs=() if pairs is None or not deciding else _more(conversion, deciding[0]),
    )


def usual_strength(records: Records, geometry: str, age_h: float) -> float | None:
    """Mean over batches of one geometry at an age, site-cured where there are any [MPa]; None where it has none."""
    by_curing: dict[str, list[float]] = {"site": [], "standard": []}
    for (_, curing, _, age), items in groups_of(records.breaks, geometry).items():
        if age == age_h and curing in by_curing:
            by_curing[curing].append(fmean(item.strength_mpa for item in items))
    found = by_curing["site"] or by_curing["standard"]
    return fmean(found) if found else None


def _ratio_error(conversion: Conversion) -> float:
    line = conversion.judged["ratio"].whole
    return float(line.factor * np.sqrt(line.covariance[0, 0]))


def _power(conversion: Conversion) -> tuple[float, float] | None:
    found = conversion.judged.get("power law")
    return None if found is None else (found.whole.factor, found.whole.exponent)


def _table(
    conversion: Conversion, pairs: Pairs, deciding: Sequence[tuple[float, float, float]]
) -> tuple[ConvertedStrength, ...]:
    """Even strengths over the span of the pairs, with the band of new batches at the deciding age."""
    n_parameters = 2 if conversion.form == "power law" else 1
    wide = float(stdtrit(max(conversion.n_batches - n_parameters, 1), 0.5 + BAND / 2.0))
    age_h = deciding[0][0] if deciding else float(np.median(pairs.age_h))
    lines = []
    for mpa in np.linspace(pairs.from_mpa.min(), pairs.from_mpa.max(), N_LINES):
        to_mpa = float(conversion.convert(mpa))
        spread = float(np.exp(wide * np.sqrt(conversion.variance(mpa, age_h))))
        lines.append(
            ConvertedStrength(from_mpa=float(mpa), to_mpa=to_mpa, lower_mpa=to_mpa / spread, upper_mpa=to_mpa * spread)
        )
    return tuple(lines)


def _points(conversion: Conversion, pairs: Pairs) -> tuple[PairPoint, ...]:
    residual = conversion.judged[conversion.line.form].residual
    return tuple(
        PairPoint(
            batch=pairs.batch[i],
            curing=pairs.curing[i],
            age_h=float(pairs.age_h[i]),
            from_mpa=float(pairs.from_mpa[i]),
            to_mpa=float(pairs.to_mpa[i]),
            residual=float(residual[i]),
        )
        for i in range(len(pairs))
    )


def _by_age(conversion: Conversion, pairs: Pairs) -> tuple[AgeResidual, ...]:
    """Mean residual of every age over batches."""
    residual = conversion.judged[conversion.line.form].residual
    found = []
    for age in np.unique(pairs.age_h):
        held = pairs.age_h == age
        batches = [name for name, is_held in zip(pairs.batch, held, strict=True) if is_held]
        each = [float(residual[held][[name == batch for name in batches]].mean()) for batch in dict.fromkeys(batches)]
        n = len(each)
        error = float(np.std(each, ddof=1) / np.sqrt(n)) if n > 1 else None
        found.append(AgeResidual(age_h=float(age), n_batches=n, mean=float(np.mean(each)), standard_error=error))
    return tuple(found)


def _more(conversion: Conversion, deciding: tuple[float, float, float]) -> tuple[tuple[int, float, float], ...]:
    """Error now and with further batches of pairs: what comes from estimating the line shrinks, batches stay apart."""
    _, mpa, now = deciding
    of_line = conversion.inflation * (float(conversion.line.variance(mpa)) - conversion.line.between**2)
    n = conversion.n_batches
    return tuple((more, now, float(np.sqrt(max(now**2 - of_line * more / (n + more), 0.0)))) for more in FURTHER)
