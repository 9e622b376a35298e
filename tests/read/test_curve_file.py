"""``curve.json`` read back: the same curve, and every fault in a message."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.read.curve_file import read_curve
from planner.report.documents.values.curve_document import bare_curve_document, curve_document, render_curve_csv
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import InputError
from planner.terms.results.after_casting.pour_model import Remainder
from tests.issued_curve.invented_curves import hyperbola, issued_curve, pour_model, promise
from tests.issued_curve.trial_files import issued


def written(folder: Path, document: Any) -> Path:
    path = folder / "curve.json"
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "curve",
    [
        issued_curve(),
        issued_curve(maturity=MaturitySetting("temperature-time", -2.0, 20.0), temperature_c=None),
        issued_curve(maturity=MaturitySetting("age"), standard_c=None, supersedes=2, number=3),
        issued_curve(batches=(hyperbola(), hyperbola(40.0, batch="T2"))),
        issued_curve(promise=promise(safe_factor=None, own_rms=None, later_rms=None)),
        issued_curve(is_calibrated=False, age_zero="water added"),
        issued_curve().scaled(0.87, number=2, span_h=(6.0, 30.0)),
        issued_curve(pour_model=pour_model()),
        issued_curve(
            pour_model=pour_model(
                reading="rescaled", remainders=(Remainder(ages_h=(4.0, 5.0), target_h=12.0, variance=0.0036),)
            )
        ),
        issued_curve(waits_mpa=(20.0, 35.0)),
    ],
    ids=[
        "plain",
        "datum",
        "age",
        "two batches",
        "nothing promised",
        "not calibrated",
        "scaled",
        "pours",
        "rescaled",
        "strengths",
    ],
)
def test_curve_reads_back_as_it_was(tmp_path: Path, curve: IssuedCurve) -> None:
    assert read_curve(written(tmp_path, bare_curve_document(curve))) == curve


def test_issued_curve_reads_back_with_everything_around_it(tmp_path: Path) -> None:
    issue = issued(tmp_path, "T1")
    assert read_curve(written(tmp_path, curve_document(issue))) == issue.curve


def test_table_of_the_csv_is_that_of_the_json() -> None:
    curve = issued_curve(maturity=MaturitySetting("temperature-time", 0.0, 20.0))
    rows = list(csv.DictReader(io.StringIO(render_curve_csv(curve))))
    table = bare_curve_document(curve)["table"]
    assert [float(row["maturity"]) for row in rows] == [row["maturity"] for row in table]
    assert [float(row["strength_mpa"]) for row in rows] == [row["strength_mpa"] for row in table]
    assert [float(row["safe_mpa"]) for row in rows] == [row["safe_mpa"] for row in table]
    assert {row["maturity_unit"] for row in rows} == {"C h"}
    # 24 h at 20 C over a datum of 0 C are 480 C h; the curve reads 25 MPa there
    assert ("480.0", "25.0") in {(row["maturity"], row["strength_mpa"]) for row in rows}
    refused = render_curve_csv(issued_curve(promise=promise(safe_factor=None)))
    assert {row["safe_mpa"] for row in csv.DictReader(io.StringIO(refused))} == {""}


def changed(change: Callable[[dict[str, Any]], None]) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(json.dumps(bare_curve_document(issued_curve(pour_model=pour_model()))))
    change(document)
    return document


@pytest.mark.parametrize(
    ("document", "message"),
    [
        ("{", "This is no JSON"),
        ("[" * 100_000, "This is no JSON"),
        ("[]", "no issued curve of this version: its schema is None"),
        (changed(lambda d: d.update(schema="test-age-planner/curve/2")), "Issue the curve anew with this version"),
        (changed(lambda d: d.pop("promise")), "promise: Field required"),
        (changed(lambda d: d.update(number=0)), "number: Input should be greater than or equal to 1"),
        (changed(lambda d: d.update(curve="cubic")), "curve: Input should be 'hyperbolic'"),
        (changed(lambda d: d["promise"].update(safe_factor=0.9)), "promise.safe_factor: Input should be greater than"),
        (changed(lambda d: d["maturity"].pop("q_k")), "equivalent age needs its constant"),
        (changed(lambda d: d["valid_for"]["maturity_span"].update(oldest_h=1.0)), "spans maturities that rise"),
        (changed(lambda d: d["parameters"][0]["values"].pop("half_h")), "not those of the hyperbolic curve"),
        (
            changed(lambda d: d["parameters"][0]["values"].update(half_h=19.0)),
            "was changed after it was issued",
        ),
        (changed(lambda d: d["table"][3].update(strength_mpa=99.0)), "the table says 99 MPa"),
        (changed(lambda d: d["table"][3].update(safe_mpa=99.0)), "safe 99.0"),
        (changed(lambda d: d["table"][3].update(safe_mpa=None)), "safe None"),
        (changed(lambda d: d["pours"].update(widening=0.5)), "pours.widening: Input should be greater than or equal"),
        (changed(lambda d: d["pours"].update(reading="rescaled")), "Remainders are of a rescaled trial curve alone"),
        (changed(lambda d: d["pours"]["knots"].reverse()), "two maturities or more, rising"),
        (changed(lambda d: d["pours"].update(reading="guess")), "pours.reading: Input should be 'records'"),
        (changed(lambda d: d["promise"].update(later_rms=0.05)), "its seal is not that of its content"),
        (changed(lambda d: d["promise"].update(tolerance=0.2)), "its seal is not that of its content"),
        (changed(lambda d: d.update(mix="slow mix")), "its seal is not that of its content"),
        (changed(lambda d: d.update(version="0.0.9")), "its seal is not that of its content"),
        (changed(lambda d: d["inputs"].update({"plan.toml": "sha256:22"})), "its seal is not that of its content"),
        (changed(lambda d: d.update(number=2)), "its seal is not that of its content"),
        (changed(lambda d: d["pours"].update(widening=1.0)), "its seal is not that of its content"),
        (changed(lambda d: d["valid_for"].update(concrete_temperature_c=None)), "its seal is not that of its content"),
        (changed(lambda d: d.update(added=1)), "its seal is not that of its content"),
        (changed(lambda d: d.update(added=float("nan"))), "its seal is not that of its content"),
        (changed(lambda d: d.pop("seal")), "its seal is not that of its content"),
    ],
)
def test_faulty_curve_is_refused(tmp_path: Path, document: Any, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        read_curve(written(tmp_path, document))
    assert all(problem.file == "curve.json" for problem in caught.value.problems)


def test_layout_and_order_of_keys_are_no_change(tmp_path: Path) -> None:
    document = bare_curve_document(issued_curve())
    turned = json.dumps(dict(reversed(document.items())), indent=7)
    (tmp_path / "curve.json").write_text(turned, encoding="utf-8")
    assert read_curve(tmp_path / "curve.json") == issued_curve()


def test_missing_and_foreign_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There is no such file"):
        read_curve(tmp_path / "curve.json")
    (tmp_path / "curve.toml").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="which is not read"):
        read_curve(tmp_path / "curve.toml")
