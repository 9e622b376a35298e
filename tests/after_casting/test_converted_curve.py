"""A curve of cubes that reads cylinders: every figure worked out a second time from the tables alone."""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from statistics import fmean
from typing import Any

import numpy as np
import pytest
from scipy import optimize

from planner.after_casting.issuing import issue_curve
from planner.after_casting.pour_reading import read_pour
from planner.after_casting.site_checking import check_pours
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.pipeline import recommend
from planner.read import load_later, load_plan
from planner.read.curve_file import read_curve
from planner.report.documents.values.curve_document import curve_document, render_curve_csv
from planner.report.documents.values.recommendation_document import write_json
from planner.terms.problems import InputError
from planner.terms.results.recommended.recommendation import Recommendation

SLEEPERS = Path(__file__).resolve().parents[2] / "scenarios" / "sleepers" / "plan.toml"
CUBE, OTHER_CUBE, CYLINDER = "cube 150 mm", "cube 100 mm", "cylinder 150x300 mm"
CUBES = {8.0: (23.4, 24.2), 12.0: (35.0, 36.4), 20.0: (41.5, 43.1), 72.0: (52.0, 53.2)}
COMPANIONS = (41.0, 42.4)


def row(curing: str, age_h: float, mpa: float, **given: object) -> dict[str, object]:
    plain = {"batch": "T1", "mix": "sleeper mix", "geometry": CUBE, "curing": curing, "age_h": age_h}
    return {**plain, "strength_mpa": mpa, "placement": "long line" if curing == "site" else "", **given}


def trial_rows(**companions: object) -> list[dict[str, object]]:
    standard = [row("standard", age, mpa) for age, pair in CUBES.items() for mpa in pair]
    return [*standard, *(row("site", 16.0, mpa, **companions) for mpa in COMPANIONS)]


def table(path: Path, rows: list[dict[str, object]]) -> Path:
    columns = dict.fromkeys(key for one in rows for key in one)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
    return path


def temperatures(path: Path, *batches: str) -> Path:
    """The trial batch as warm as P1 was, from the scenario's own table."""
    with (SLEEPERS.parent / "temperatures.csv").open(encoding="utf-8") as file:
        readings = [one for one in csv.DictReader(file) if one["batch"] == "P1"]
    return table(path, [{**one, "batch": batch} for batch in batches for one in readings])


@pytest.fixture(scope="module")
def advice() -> Recommendation:
    return recommend(load_plan(SLEEPERS), n_draws=10, workers=1)


def issued(folder: Path, advice: Recommendation, rows: list[dict[str, object]]) -> Issue:
    files = table(folder / "trial.csv", rows), temperatures(folder / "t1.csv", "T1")
    return issue_curve(load_plan(SLEEPERS), load_later(SLEEPERS, *files), advice)


def ratio() -> tuple[float, tuple[float, float]]:
    """Cylinder over 150 mm cube of the records and the cubes that pairs hold, from the table alone.

    The program weighs batches by their scatter; plain means of batches come within a third of its standard error.
    """
    found: dict[tuple[str, str, str, float], list[float]] = defaultdict(list)
    with (SLEEPERS.parent / "breaks.csv").open(encoding="utf-8") as file:
        for one in csv.DictReader(file):
            key = (one["geometry"], one["batch"], one["curing"], float(one["age_h"]))
            found[key].append(float(one["strength_mpa"]))
    pairs = {key[1:]: (fmean(found[CUBE, *key[1:]]), fmean(each)) for key, each in found.items() if key[0] == CYLINDER}
    by_batch: dict[str, list[float]] = defaultdict(list)
    for (batch, _, _), (cube, cylinder) in pairs.items():
        by_batch[batch].append(cylinder / cube)
    cubes = [cube for cube, _ in pairs.values()]
    return fmean(fmean(each) for each in by_batch.values()), (min(cubes), max(cubes))


def factor_hours(datum_c: float, until_h: float, curing: str) -> float:
    """Temperature-time factor of P1's record [h at 20 C], trapezoids, by hand."""
    with (SLEEPERS.parent / "temperatures.csv").open(encoding="utf-8") as file:
        readings = [
            (float(one["elapsed_h"]), float(one["temperature_c"]))
            for one in csv.DictReader(file)
            if one["batch"] == "P1" and one["curing"] == curing
        ]
    times = np.array([hour for hour, _ in readings if hour < until_h] + [until_h])
    found = np.interp(times, *np.array(readings).T)
    return float(np.trapezoid(found - datum_c, times)) / (20.0 - datum_c)


def test_a_curve_of_cubes_reads_cylinders_by_a_second_way(tmp_path: Path, advice: Recommendation) -> None:
    issue = issued(tmp_path, advice, trial_rows())
    curve, conversion = issue.curve, issue.curve.conversion
    assert conversion is not None
    plain, span = ratio()
    assert conversion.factor == pytest.approx(plain, abs=0.003)
    assert (conversion.exponent, conversion.n_pairs, conversion.n_batches) == (1.0, 45, 5)
    assert conversion.span_mpa == pytest.approx(span, rel=1e-12)
    # The same fit on the cubes as they broke, converted afterwards: a ratio goes through a relative fit unchanged.
    assert (curve.curve, curve.maturity.method, curve.weighting) == ("exponential", "temperature-time", "relative")
    at = np.array([factor_hours(curve.maturity.constant, age, "standard") for age in CUBES])
    broken = np.array([fmean(pair) for pair in CUBES.values()])

    def growth(p: Any, maturity_h: Any) -> Any:
        return p[0] * np.exp(-((p[1] / maturity_h) ** p[2]))

    fitted = optimize.least_squares(lambda p: growth(p, at) / broken - 1.0, (60.0, 8.0, 1.0), xtol=1e-15, ftol=1e-15).x
    for line in issue.table:
        cube = growth(fitted, line.maturity_h)
        assert line.strength_mpa == pytest.approx(conversion.factor * cube, rel=1e-4)
        assert line.safe_mpa is not None
        assert line.safe_mpa == pytest.approx(line.strength_mpa / advice.honest.safe_reading_factor, rel=1e-12)
    # companions of the cube, converted
    assert issue.acceptance is not None
    (check,) = issue.acceptance.checks
    assert check.companions.broken_mpa == pytest.approx(conversion.factor * fmean(COMPANIONS), rel=1e-12)
    on_site = factor_hours(curve.maturity.constant, 16.0, "site")
    assert check.companions.maturity_h == pytest.approx(on_site, rel=1e-6)
    cube = growth(fitted, on_site)
    assert check.companions.difference == pytest.approx(fmean(COMPANIONS) / cube - 1.0, rel=1e-3)
    # what the errors are: the total is promised, and converted companions are held against it less the conversion
    own, promise = advice.honest.own_batch, curve.promise
    assert own is not None
    assert promise.own_rms == own.nested_rms
    assert promise.conversion_rms == conversion.rms > 0.01
    left = np.sqrt(own.nested_rms**2 - conversion.rms**2)
    scatter = promise.within_test_cv**2 / 2.0
    assert check.sd == pytest.approx(np.sqrt(left**2 + scatter), rel=0.05)
    assert issue.acceptance.own_rms == pytest.approx(left, rel=1e-12)
    assert issue.check_sd == pytest.approx(np.sqrt(promise.later_rms**2 - conversion.rms**2 + scatter * 2 / 3))
    codes = {caution.code for caution in issue.cautions}
    assert {"conversion-in-use", "companions-converted"} <= codes
    assert "geometry-without-breaks" not in codes


def test_measured_companions_are_held_as_they_are(tmp_path: Path, advice: Recommendation) -> None:
    rows = [*trial_rows(geometry=CYLINDER, strength_mpa=35.0), row("site", 16.0, 41.0), row("standard", 72.0, 46.0)]
    rows[-1]["geometry"] = CYLINDER
    issue = issued(tmp_path, advice, rows)
    assert issue.acceptance is not None
    (check,) = issue.acceptance.checks
    assert check.companions.broken_mpa == pytest.approx(35.0)
    assert check.companions.n_specimens == 2
    assert issue.acceptance.own_rms == issue.curve.promise.own_rms
    (unused,) = [caution for caution in issue.cautions if caution.code == "breaks-of-both-geometries"]
    assert unused.text.startswith("Not used: 2 breaks of trial.csv beside others")
    assert len(issue.fits[0].means.age_h) == 4
    assert issue.fits[0].means.n_specimens.tolist() == [2, 2, 2, 2]


def test_the_curve_ends_where_the_pairs_end(tmp_path: Path, advice: Recommendation) -> None:
    weak = [{**one, "strength_mpa": 0.6 * float(str(one["strength_mpa"]))} for one in trial_rows()]
    issue = issued(tmp_path, advice, weak)
    curve = issue.curve
    assert curve.conversion is not None
    assert curve.conversion.read_span_mpa is not None
    low, high = curve.conversion.read_span_mpa
    assert low == pytest.approx(curve.conversion.factor * ratio()[1][0])
    whole = factor_hours(curve.maturity.constant, 8.0, "standard")
    assert curve.span_h[0] > whole  # 14 MPa cubes at 8 h are below every pair
    assert curve.read(curve.span_h[0]) == pytest.approx(low, rel=2e-3)
    assert curve.read(curve.span_h[0]) >= low
    assert curve.safe(0.99 * curve.span_h[0]) is None
    assert all(low <= line.strength_mpa <= high for line in issue.table)
    hopeless = [{**one, "strength_mpa": 0.2 * float(str(one["strength_mpa"]))} for one in trial_rows()]
    with pytest.raises(InputError, match=r"nowhere reads a strength of 18\.\d to 57\.\d MPa"):
        issued(tmp_path, advice, hopeless)


def test_strong_concrete_is_read_no_further_than_the_pairs(tmp_path: Path, advice: Recommendation) -> None:
    strong = [{**one, "strength_mpa": 1.5 * float(str(one["strength_mpa"]))} for one in trial_rows()]
    curve = issued(tmp_path, advice, strong).curve
    assert curve.conversion is not None
    assert curve.conversion.read_span_mpa is not None
    high = curve.conversion.read_span_mpa[1]
    assert high == pytest.approx(curve.conversion.factor * ratio()[1][1])
    assert curve.span_h[1] < factor_hours(curve.maturity.constant, 72.0, "standard")  # 78 MPa cubes, above every pair
    assert curve.read(curve.span_h[1]) == pytest.approx(high, rel=2e-3)
    assert curve.read(curve.span_h[1]) <= high
    assert curve.safe(1.01 * curve.span_h[1]) is None


def kept(folder: Path, issue: Issue) -> IssuedCurve:
    path = folder / "curve.json"
    path.write_text(write_json(curve_document(issue)), encoding="utf-8")
    return read_curve(path)


def test_the_file_keeps_the_conversion_and_its_table_reads_cylinders(tmp_path: Path, advice: Recommendation) -> None:
    issue = issued(tmp_path, advice, trial_rows())
    assert kept(tmp_path, issue) == issue.curve
    document = json.loads((tmp_path / "curve.json").read_text(encoding="utf-8"))
    assert document["conversion"]["from_geometry"] == CUBE
    assert document["conversion"]["to_geometry"] == CYLINDER
    lines = list(csv.DictReader(render_curve_csv(issue.curve).splitlines()))
    assert [float(line["strength_mpa"]) for line in lines] == [line.strength_mpa for line in issue.table]
    document["conversion"]["factor"] = 0.0
    (tmp_path / "curve.json").write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(InputError, match="greater than 0"):
        read_curve(tmp_path / "curve.json")


def test_site_checks_of_cubes_and_of_cylinders(tmp_path: Path, advice: Recommendation) -> None:
    issue = issued(tmp_path, advice, trial_rows())
    curve, plan = issue.curve, load_plan(SLEEPERS)
    conversion, promise = curve.conversion, curve.promise
    assert conversion is not None
    assert promise.later_rms is not None
    read = curve.read(20.0)

    def answer(geometry: str, mpa: float) -> Any:
        at_20_c = 20.0 * (20.0 - curve.maturity.constant)  # C h of 20 h at 20 C
        rows = [row("site", 16.0, mpa, batch="L1", maturity=at_20_c, geometry=geometry) for _ in range(3)]
        return check_pours(plan, curve, load_later(SLEEPERS, table(tmp_path / "checks.csv", rows)))

    assert curve.maturity.method == "temperature-time"
    of_cubes, of_cylinders = answer(CUBE, 0.9 * read / conversion.factor), answer(CYLINDER, 0.9 * read)
    for told_of, rms in (
        (of_cubes, np.sqrt(promise.later_rms**2 - conversion.rms**2)),
        (of_cylinders, promise.later_rms),
    ):
        (point,) = told_of.verdict.points
        assert point.check.companions.difference == pytest.approx(-0.1, abs=1e-4)
        sd = np.sqrt(rms**2 + promise.within_test_cv**2 / 3.0)
        assert point.z == pytest.approx(-0.1 / sd, rel=1e-3)
        assert told_of.check_sd == pytest.approx(sd, rel=1e-9)
    assert of_cubes.alarms != of_cylinders.alarms


def test_first_breaks_of_a_trial_batch_are_converted(tmp_path: Path, advice: Recommendation) -> None:
    rows = [row("standard", 8.0, mpa) for mpa in CUBES[8.0]]
    files = table(tmp_path / "first.csv", rows), temperatures(tmp_path / "t1.csv", "T1")
    answer = recommend(load_plan(SLEEPERS), n_draws=10, workers=1, trial=load_later(SLEEPERS, *files))
    assert answer.trial is not None
    (mean,) = answer.trial.broken
    assert mean.mean_mpa == pytest.approx(ratio()[0] * fmean(CUBES[8.0]), rel=0.004)
    assert answer.recommended == advice.recommended


def test_a_geometry_that_the_curve_does_not_know_is_refused(tmp_path: Path, advice: Recommendation) -> None:
    with pytest.raises(InputError, match=f'breaks of "T1" are of {OTHER_CUBE} .* The curve is of {CUBE}'):
        issued(tmp_path, advice, trial_rows(geometry=OTHER_CUBE))
    with pytest.raises(InputError, match="The geometry is not stated"):
        issued(tmp_path, advice, trial_rows(geometry=""))


def test_a_pour_without_a_model_is_refused_in_words(tmp_path: Path, advice: Recommendation) -> None:
    curve = issued(tmp_path, advice, trial_rows()).curve
    given = load_later(SLEEPERS, table(tmp_path / "pour.csv", [row("standard", 8.0, 24.0, batch="L1", maturity=200.0)]))
    with pytest.raises(InputError, match="holds nothing to read pours by"):
        read_pour(load_plan(SLEEPERS), replace(curve, pour_model=None), given)
