"""``curve.json`` back into the issued curve, checked: a curve that was edited by hand is no curve."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from planner.issued_curve.calibration.issued import BatchCurve, IssuedCurve, IssuedName, Promise
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.seal import SCHEMA, SEAL, seal_of
from planner.read.parsing.file_bytes import Shelf
from planner.read.parsing.findings import Findings, shown
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.early_breaks import PourReading
from planner.terms.problems import InputError, Problem
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.after_casting.pour_model import Knot, PourModel, Remainder, TrialMean
from planner.terms.results.geometry.conversion_figures import ConversionForm

AGREES_WITHIN = 1e-6  # strengths of the table beside those of the parameters
MOST_NUMBERS = 10_000  # of a table or of parameters; a curve has a few

Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Share = Annotated[float, Field(gt=0, lt=1)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True)


class _Maturity(_Part):
    method: Literal["equivalent age", "temperature-time", "age"]
    q_k: Positive | None = None
    datum_c: Number | None = None
    reference_c: Number = 20.0


class _Parameters(_Part):
    batch: str
    values: dict[str, Number] = Field(min_length=1, max_length=MOST_NUMBERS)
    standard_errors: dict[str, Number] = Field(max_length=MOST_NUMBERS)
    knots_h: list[Positive] = Field(min_length=1, max_length=MOST_NUMBERS)


class _Row(_Part):
    maturity: Positive
    strength_mpa: Number
    safe_mpa: Number | None


class _Span(_Part):
    youngest_h: Positive
    oldest_h: Positive


class _ValidFor(_Part):
    concrete_temperature_c: tuple[Number, Number] | None
    maturity_span: _Span


class _Promise(_Part):
    own_rms: Positive | None
    later_rms: Positive | None
    within_test_cv: Annotated[float, Field(ge=0, allow_inf_nan=False)]
    companions_per_check: Annotated[int, Field(ge=1)]
    safe_factor: Annotated[float, Field(ge=1, allow_inf_nan=False)] | None
    n_batches: Annotated[int, Field(ge=0)]
    tolerance: Share
    assurance: Share
    conversion_rms: Annotated[float, Field(ge=0, lt=1)] = 0.0


class _Conversion(_Part):
    from_geometry: str
    to_geometry: str
    form: ConversionForm
    factor: Positive
    exponent: Positive
    rms: Annotated[float, Field(ge=0, lt=1)]
    span_mpa: tuple[Positive, Positive] | None
    n_pairs: Annotated[int, Field(ge=0)]
    n_batches: Annotated[int, Field(ge=0)]


class _Knot(_Part):
    maturity_h: Positive
    strength_mpa: Positive
    slope: Annotated[float, Field(ge=0, allow_inf_nan=False)]
    cv: Positive
    noise: Annotated[float, Field(ge=0, allow_inf_nan=False)]


class _TrialMean(_Part):
    maturity_h: Positive
    mean_mpa: Positive
    n_specimens: Annotated[int, Field(ge=1)]


class _Remainder(_Part):
    ages_h: list[Positive] = Field(min_length=1, max_length=MOST_NUMBERS)
    target_h: Positive
    variance: Annotated[float, Field(ge=0, allow_inf_nan=False)]


class _Pours(_Part):
    reading: PourReading
    knots: list[_Knot] = Field(min_length=2, max_length=MOST_NUMBERS)
    scale_sd: Positive
    rate_sd: Positive
    departure_sd: Positive
    n_batches: Annotated[int, Field(ge=2)]
    n_freedom: Positive
    widening: Annotated[float, Field(ge=1, allow_inf_nan=False)]
    span_h: tuple[Positive, Positive]
    least_strength_mpa: Annotated[float, Field(ge=0, allow_inf_nan=False)]
    trials: list[list[_TrialMean]] = Field(max_length=MOST_NUMBERS)
    remainders: list[_Remainder] = Field(max_length=MOST_NUMBERS)

    def model(self) -> PourModel:
        plain = self.model_dump(exclude={"knots", "trials", "remainders"})
        return PourModel(
            **plain,
            knots=tuple(Knot(**knot.model_dump()) for knot in self.knots),
            trials=tuple(tuple(TrialMean(**mean.model_dump()) for mean in trial) for trial in self.trials),
            remainders=tuple(
                Remainder(ages_h=tuple(item.ages_h), target_h=item.target_h, variance=item.variance)
                for item in self.remainders
            ),
        )


class _Curve(_Part):
    version: str
    inputs: dict[str, str]
    number: Annotated[int, Field(ge=1)]
    supersedes: int | None
    title: str
    mix: str
    geometry: str
    property: str
    curve: IssuedName
    weighting: Literal["absolute", "relative"]
    maturity: _Maturity
    parameters: list[_Parameters] = Field(min_length=1, max_length=MOST_NUMBERS)
    scale: Annotated[float, Field(gt=0, le=1)]
    basis: Literal["trial", "records"]
    is_calibrated: bool
    standard_curing_c: Number | None
    age_zero: str = ""
    target_ages_h: list[Positive]
    waits_mpa: list[Positive] = []
    table: list[_Row] = Field(min_length=2, max_length=MOST_NUMBERS)
    valid_for: _ValidFor
    promise: _Promise
    conversion: _Conversion | None = None
    pours: _Pours | None = None


def read_curve(path: str | Path) -> IssuedCurve:
    """Read an issued curve.

    Parameters
    ----------
    path
        A ``curve.json`` as ``test-ages curve --out`` writes it.

    Raises
    ------
    InputError
        Where the file is no such curve, of another version of the format, or was changed after it was issued.
    """
    path = Path(path)
    findings = Findings()
    content = Shelf(path.parent, findings, allow_outside=True).take(path.name, endings=(".json",))
    if content is None:
        raise InputError(findings.problems)
    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        raise _refused(
            path, "This is no JSON. Give the curve.json that was written when the curve was issued."
        ) from None
    if not isinstance(document, dict) or document.get("schema") != SCHEMA:
        given = document.get("schema") if isinstance(document, dict) else None
        raise _refused(
            path,
            f"This is no issued curve of this version: its schema is {shown(given)}, needed is {shown(SCHEMA)}. Issue "
            "the curve anew with this version.",
        )
    try:
        given_curve = _Curve.model_validate(document)
        curve = _curve_of(given_curve)
    except ValidationError as error:
        raise InputError(
            Problem(path.name, f"{item['msg']}, given {shown(item['input'])}.", column=_place(item["loc"]))
            for item in error.errors()[:25]
        ) from None
    except ValueError as error:
        raise _refused(path, f"{error} Issue the curve anew.") from None
    _check_table(path, given_curve, curve)
    _check_seal(path, document)
    return curve


def _place(location: tuple[int | str, ...]) -> str:
    return ".".join(str(part) for part in location)


def _refused(path: Path, text: str) -> InputError:
    return InputError([Problem(path.name, text)])


def _setting(given: _Maturity) -> MaturitySetting:
    if given.method == "age":
        return MaturitySetting("age")
    constant = given.q_k if given.method == "equivalent age" else given.datum_c
    if constant is None:
        raise ValueError(f"The {given.method} needs its constant.")
    return MaturitySetting(given.method, constant, given.reference_c)


def _curve_of(given: _Curve) -> IssuedCurve:
    span = given.valid_for.maturity_span
    plain: dict[str, Any] = {
        name: getattr(given, name)
        for name in (
            "number", "supersedes", "title", "mix", "geometry", "property", "curve", "weighting", "basis",
            "is_calibrated", "version", "scale", "age_zero",
        )
    }  # fmt: skip
    return IssuedCurve(
        **plain,
        maturity=_setting(given.maturity),
        batches=tuple(
            BatchCurve(
                batch=item.batch,
                parameters=tuple(item.values.values()),
                parameter_se=tuple(item.standard_errors.values()),
                knots_h=tuple(item.knots_h),
            )
            for item in given.parameters
        ),
        span_h=(span.youngest_h, span.oldest_h),
        temperature_c=given.valid_for.concrete_temperature_c,
        standard_c=given.standard_curing_c,
        target_ages_h=tuple(given.target_ages_h),
        waits_mpa=tuple(given.waits_mpa),
        promise=Promise(**given.promise.model_dump()),
        inputs=tuple(given.inputs.items()),
        conversion=None if given.conversion is None else CurveConversion(**given.conversion.model_dump()),
        pour_model=None if given.pours is None else given.pours.model(),
    )


def _check_seal(path: Path, document: dict[str, Any]) -> None:
    """What the table does not show, like the error on later pours, must be as it was issued too."""
    try:
        is_whole = document.get(SEAL) == seal_of(document)
    except ValueError:  # a number that is none: nothing that was issued holds one
        is_whole = False
    if not is_whole:
        raise _refused(
            path,
            "The file was changed after it was issued: its seal is not that of its content. Give the curve as it was "
            "written, or issue it anew.",
        )


def _check_table(path: Path, given: _Curve, curve: IssuedCurve) -> None:
    """The table of the file must be the one that its parameters give."""
    _, per_hour = maturity_unit(curve.maturity)
    problems = []
    for place, row in enumerate(given.table):
        try:
            read = float(curve.strength(np.array([row.maturity / per_hour]))[0])
        except (ValueError, TypeError) as error:
            raise _refused(path, f"The parameters are not those of the {given.curve} curve ({error})") from None
        safe = curve.safe(row.maturity / per_hour)
        agrees = np.isclose(read, row.strength_mpa, rtol=AGREES_WITHIN, atol=0) and (
            (safe is None) == (row.safe_mpa is None)
            and (safe is None or np.isclose(safe, row.safe_mpa or 0.0, rtol=AGREES_WITHIN, atol=0))
        )
        if not agrees:
            problems.append(
                Problem(
                    path.name,
                    f"At a maturity of {row.maturity:.6g} the table says {row.strength_mpa:.6g} MPa (safe "
                    f"{row.safe_mpa}), the parameters {read:.6g} MPa (safe {safe}). The file was changed after it was "
                    "issued: give the curve as it was written.",
                    column=f"table.{place}",
                )
            )
    if problems:
        raise InputError(problems[:25])
