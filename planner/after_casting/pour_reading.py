"""The corridor of one later pour: from an issued curve and the pour's early breaks to its reading. No input or output.

The pour is read by what the earlier batches say of batches of this mix, by the trial batch and by its own breaks
(:mod:`planner.mixed_model.reading`); the curve carries all of that. An early break serves only the targets after it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from statistics import fmean

import numpy as np

from planner.conversion.later_breaks import in_target_geometry
from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.batch_means import cell_maturity_h, cells_with_maturity
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.pour_reader import PourReader
from planner.issued_curve.calibration.readings import table_of
from planner.issued_curve.calibration.usable_breaks import READ, usable_breaks
from planner.issued_curve.plan_match import changed_inputs, faults_beside
from planner.issued_curve.pour_answer import EarlyCell, PourAnswer, PourRow, PourTableRow, Strangeness, Unread
from planner.issued_curve.rescaled_reader import RescaledReader
from planner.issued_curve.wording.given_doubts import given_doubts
from planner.issued_curve.wording.given_faults import given_faults, not_rising
from planner.issued_curve.wording.pour_cautions import NO_MODEL, break_faults, known_batch_caution, pour_cautions
from planner.issued_curve.wording.pour_doubts import pour_doubts, trial_copies
from planner.issued_curve.wording.usable_cautions import usable_cautions
from planner.maturity import maturity_at
from planner.mixed_model import CellMeans, Reading, judge_level, judge_stranger
from planner.terms.plan.settings import Plan
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, CuringRecord, GivenRecords

UNUSED = "temperature-unused"  # code of the caution that a record serves no break


def read_pour(plan: Plan, curve: IssuedCurve, given: GivenRecords, *, curve_file: str = "curve.json") -> PourAnswer:
    """Read one pour from its early breaks.

    Parameters
    ----------
    plan
        The plan that the curve was issued for.
    curve
        From :func:`planner.read.read_curve`.
    given
        Early breaks of one pour, from :func:`planner.read.load_later`; a temperature record of the pour, curing site,
        says at which maturity its targets are read.
    curve_file
        For messages.

    Raises
    ------
    InputError
        Where the curve is another plan's, its inputs changed, it carries nothing to read pours by, or the breaks
        cannot serve; with every reason.
    """
    faults = [*faults_beside(plan.settings, curve), *_input_faults(plan, curve)]
    model = curve.pour_model
    if model is None:
        faults.append(NO_MODEL)
    if faults or model is None:
        raise InputError(Problem(curve_file, text) for text in faults)
    as_broken = [item for item in given.records.breaks if item.curing in READ]
    given = in_target_geometry(given, curve.conversion)
    break_maturity = BreakMaturity(given.records.curing_records, curve.standard_c)
    usable = usable_breaks(given, break_maturity, curve.maturity, standard_c=curve.standard_c)
    early = _early_cells(usable.breaks, break_maturity, curve)
    cells = cells_with_maturity(usable.breaks, break_maturity, curve.maturity)
    wrong = [
        *(Problem(given.file, text) for text in _file_faults(usable.breaks)),
        *given_faults(given.file, usable.breaks, curve),
        *not_rising(given.file, cells),
        *(Problem(given.file, text) for text in break_faults(early, model, curve.target_ages_h)),
    ]
    if wrong:
        raise InputError(wrong)
    (name,) = usable.batches
    reader = PourReader.of(model)
    test = judge_stranger(reader.prior, reader.about, _means(early))
    strangeness = Strangeness(
        distance=test.distance,
        limit=test.limit,
        n_means=len(early),
        n_batches=model.n_batches,
        is_stranger=test.is_stranger,
        noticed_deficit=test.noticed_deficit,
    )
    records = [item for item in given.records.curing_records if item.batch == name and item.curing == "site"]
    law = RescaledReader.of(curve, model) if model.reading == "rescaled" else reader
    rows = tuple(_rows(curve, law, early, records, is_stranger=test.is_stranger is True))
    is_known = name in plan.records.batches or name in {item.batch for item in curve.batches}
    known = [known_batch_caution(name)] if is_known else []
    level = None if test.is_stranger else judge_level(reader.prior, reader.about, _means(early))
    said = (
        *pour_cautions(curve, strangeness, rows, early, has_site_record=bool(records)),
        *_doubts(plan, curve, given.file, as_broken),
        *pour_doubts(given.file, as_broken, early, level, plan.settings.pours),
        *trial_copies(given.file, early, model.trials),
    )
    return PourAnswer(
        curve=curve,
        pour=name,
        early=early,
        strangeness=strangeness,
        rows=rows,
        table=() if test.is_stranger else _table(curve, law, early),
        inputs=given.inputs,
        cautions=(*said, *_of_files(given, records), *usable_cautions(usable), *known),
    )


def _doubts(plan: Plan, curve: IssuedCurve, file: str, as_broken: Sequence[Break]) -> Iterator[Caution]:
    yield from given_doubts(
        file,
        as_broken,
        curve.maturity,
        geometry=curve.geometry,
        temperature_c=curve.temperature_c,
        records=plan.records,
    )


def _of_files(given: GivenRecords, read_through: Sequence[CuringRecord]) -> tuple[Caution, ...]:
    """What reading the files said; a record that serves no break may still be what the pour is read through."""
    served = {(item.batch, item.curing) for item in given.records.breaks}
    served |= {(item.batch, item.curing) for item in read_through}
    is_served = all((item.batch, item.curing) in served for item in given.records.curing_records)
    return tuple(item for item in given.records.cautions if not (is_served and item.code == UNUSED))


def _means(early: Sequence[EarlyCell]) -> CellMeans:
    return CellMeans(
        maturity_h=np.array([cell.maturity_h for cell in early]),
        mean_mpa=np.array([cell.mean_mpa for cell in early]),
        n_specimens=np.array([float(cell.n_specimens) for cell in early]),
    )


def _early_cells(breaks: Sequence[Break], break_maturity: BreakMaturity, curve: IssuedCurve) -> tuple[EarlyCell, ...]:
    cells: dict[tuple[float, str, str], list[Break]] = defaultdict(list)
    for item in breaks:
        cells[item.age_h, item.curing, item.placement].append(item)
    return tuple(
        EarlyCell(
            age_h=age_h,
            curing=curing,
            maturity_h=cell_maturity_h(items, break_maturity, curve.maturity),
            mean_mpa=fmean(item.strength_mpa for item in items),
            n_specimens=len(items),
        )
        for (age_h, curing, _), items in sorted(cells.items(), key=lambda cell: cell[0])
    )


def _input_faults(plan: Plan, curve: IssuedCurve) -> Iterator[str]:
    changed = changed_inputs(plan.inputs, curve)
    if changed:
        yield (
            f"{', '.join(changed)} changed since the curve was issued. Issue the curve anew, or give the files it was "
            "issued from."
        )


def _file_faults(breaks: Sequence[Break]) -> Iterator[str]:
    pours = dict.fromkeys(item.batch for item in breaks)
    if not pours:
        yield "There is no standard-cured or site-cured break. Give the early breaks of the pour."
    if len(pours) > 1:
        yield f"There are {len(pours)} batches ({', '.join(pours)}). Give the early breaks of one pour."


def _rows(
    curve: IssuedCurve,
    law: PourReader | RescaledReader,
    early: Sequence[EarlyCell],
    records: Sequence[CuringRecord],
    *,
    is_stranger: bool,
) -> Iterator[PourRow]:
    """Targets in every place, then the end of every temperature record that goes beyond the breaks."""
    last_h = max(cell.age_h for cell in early)
    served: list[CuringRecord | None] = [*records] or [None]
    asked = [(age_h, record) for age_h in curve.target_ages_h for record in served]
    ends = [(float(record.elapsed_h[-1]), record) for record in records if float(record.elapsed_h[-1]) > last_h]
    for is_target, (age_h, record) in [*((True, one) for one in asked), *((False, one) for one in ends)]:
        before = [cell for cell in early if cell.age_h < age_h]
        at_h, mean_c = _condition(curve, record, age_h)
        is_safe = curve.is_calibrated and not curve.is_outside_temperatures(mean_c)
        why_not = _why_not(law, before, age_h, at_h, is_stranger=is_stranger)
        reading = None if at_h is None or why_not is not None else _read(curve, law, before, age_h, at_h)
        yield PourRow(
            age_h=age_h,
            is_target=is_target,
            placement="" if record is None else record.placement,
            maturity_h=at_h,
            temperature_c=mean_c,
            curve_mpa=curve.read(at_h) if at_h is not None and curve.holds_at(at_h) else None,
            strength_mpa=None if reading is None else float(reading.strength_mpa[0]),
            interval_mpa=None if reading is None else _interval_mpa(reading, curve.promise.assurance),
            safe_mpa=None
            if reading is None or not (is_safe and _is_held(curve, reading))
            else float(reading.safe_mpa(curve.promise.assurance)[0]),
            why_not=why_not,
        )


def _interval_mpa(reading: Reading, assurance: float) -> tuple[float, float]:
    low, high = reading.interval_mpa(assurance)
    return float(low[0]), float(high[0])


def _condition(curve: IssuedCurve, record: CuringRecord | None, age_h: float) -> tuple[float | None, float | None]:
    """Maturity [h] and mean temperature [C] at an age; no maturity where the record ends before."""
    if record is None:
        return curve.maturity_of_age(age_h), None
    if record.elapsed_h[-1] < age_h:
        return None, None
    maturity = maturity_at(np.array([age_h]), record.elapsed_h, record.temperature_c, curve.maturity, continued_c=None)
    times = np.concatenate([[0.0], record.elapsed_h[record.elapsed_h < age_h], [age_h]])
    temperatures = np.interp(times, record.elapsed_h, record.temperature_c)
    return float(maturity[0]), float(np.trapezoid(temperatures, times) / age_h)


def _read(
    curve: IssuedCurve,
    law: PourReader | RescaledReader,
    before: Sequence[EarlyCell],
    age_h: float | None,
    maturity_h: float,
) -> Reading:
    """A reading, never surer than the conversion is: right after an early break little else is unknown."""
    if isinstance(law, RescaledReader):
        found = law.read(before, age_h, maturity_h)
    else:
        found = law.read(_means(before), maturity_h)
    least = 0.0 if curve.conversion is None else curve.conversion.rms
    return replace(found, log_sd=np.maximum(found.log_sd, least))


def _is_held(curve: IssuedCurve, reading: Reading) -> bool:
    """Whether the pairs of the curve's conversion hold the strength read; so without a conversion or pairs."""
    span = None if curve.conversion is None else curve.conversion.read_span_mpa
    return span is None or span[0] <= float(reading.strength_mpa[0]) <= span[1]


def _why_not(
    law: PourReader | RescaledReader,
    before: Sequence[EarlyCell],
    age_h: float | None,
    maturity_h: float | None,
    *,
    is_stranger: bool,
) -> Unread | None:
    if is_stranger:
        return Unread.STRANGER
    if not before:
        return Unread.NO_BREAK_BEFORE
    if maturity_h is None:
        return Unread.RECORD_ENDS
    if isinstance(law, RescaledReader):
        return law.why_not(before, age_h, maturity_h)
    return None if law.holds(maturity_h) else Unread.OUTSIDE_MATURITY


def _table(
    curve: IssuedCurve, law: PourReader | RescaledReader, early: Sequence[EarlyCell]
) -> tuple[PourTableRow, ...]:
    """The maturities of the sheet that lie beyond the early breaks."""
    last_h = max(cell.maturity_h for cell in early)
    rows = []
    for row in table_of(curve):
        why_not = _why_not(law, early, None, row.maturity_h, is_stranger=False)
        if row.maturity_h <= last_h or why_not is not None:
            continue
        found = _read(curve, law, early, None, row.maturity_h)
        is_safe = curve.is_calibrated and _is_held(curve, found)
        rows.append(
            PourTableRow(
                maturity_h=row.maturity_h,
                curve_mpa=row.strength_mpa,
                strength_mpa=float(found.strength_mpa[0]),
                safe_mpa=float(found.safe_mpa(curve.promise.assurance)[0]) if is_safe else None,
            )
        )
    return tuple(rows)
