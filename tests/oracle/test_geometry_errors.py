"""Total error of cubes read as cylinders, its parts and the decision, worked out again from the tables in plain numpy.

The conversion is generalised least squares with its matrices written down whole. Converted truths that are held against
as too strong and as too weak stand in the tables of the second way as companions in two places of half the weight.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from planner.geometry_choice import settled
from planner.read import load_plan
from planner.steps.searching import Work
from planner.terms.results.geometry.geometry_options import ErrorParts, GeometryAnswer, GeometryOption, GeometryReason
from planner.verdict.selection.geometry_rule import taken_geometry
from tests.oracle.plain.candidates import Candidates, Limits, candidates_of
from tests.oracle.plain.maturities import Clock
from tests.oracle.plain.programmes import judge_row
from tests.oracle.plain.study import scatter_by_age, study_of
from tests.oracle.plain.tables import Specimen, read_temperatures
from tests.oracle.small_plans import Asked, from_scenario, write_plan
from tests.report.invented_geometries import option, programme

CUBE, CYLINDER = "cube 150 mm", "cylinder 150x300 mm"
LIMITS = Limits(ages_h=(8.0, 12.0, 20.0, 24.0), fewest_ages=3, most_ages=3, per_age=(2, 2), specimens=6)
ASKED = Asked(limits=LIMITS, targets_h=(16.0,), curves=("hyperbolic",), q_k=(5000.0,))
KINDS = f"""
[[specimens]]
geometry = "{CUBE}"
[[specimens]]
geometry = "{CYLINDER}"
"""


def read(path: Path) -> dict[str, list[Specimen]]:
    found: dict[str, list[Specimen]] = defaultdict(list)
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found[row["geometry"]].append(
                Specimen(
                    row["batch"], row["mix"], row["curing"], row["placement"], float(row["age_h"]),
                    float(row["strength_mpa"]),
                )
            )  # fmt: skip
    return found


def cells(specimens: list[Specimen]) -> dict[tuple[str, str, str, float], list[float]]:
    found: dict[tuple[str, str, str, float], list[float]] = defaultdict(list)
    for item in specimens:
        found[item.batch, item.curing, item.placement, item.age_h].append(item.strength_mpa)
    return found


@dataclass
class Ratio:
    """Cylinders over cubes, with errors in both and a departure of each batch."""

    batch: np.ndarray
    cube: np.ndarray
    cylinder: np.ndarray
    cube_sd: np.ndarray
    cylinder_sd: np.ndarray

    def of(self, used: np.ndarray) -> Ratio:
        return Ratio(self.batch[used], self.cube[used], self.cylinder[used], self.cube_sd[used], self.cylinder_sd[used])

    def covariance(self, ratio: float, between: float) -> np.ndarray:
        own = (self.cylinder_sd**2 + (ratio * self.cube_sd) ** 2) / self.cube**2
        size = between * self.cylinder.sum() / self.cube.sum()
        return np.diag(own) + size**2 * (self.batch[:, None] == self.batch[None, :])

    def square(self, ratio: float, between: float) -> float:
        left = self.cylinder / self.cube - ratio
        return float(left @ np.linalg.solve(self.covariance(ratio, between), left))

    def fitted(self) -> tuple[float, float, float]:
        """Ratio, spread between batches, and variance of the ratio, relative."""
        between, ones = 0.0, np.ones(len(self.cube))
        for _ in range(100):
            held = between
            ratio = minimize_scalar(
                lambda r, at=held: self.square(r, at), bounds=(0.3, 1.5), method="bounded", options={"xatol": 1e-11}
            ).x

            def deviance(tau: float, at: float = ratio) -> float:
                whole = self.covariance(at, tau)
                information = ones @ np.linalg.solve(whole, ones)
                return np.linalg.slogdet(whole)[1] + self.square(at, tau) + np.log(information)

            between = minimize_scalar(deviance, bounds=(0.0, 0.3), method="bounded", options={"xatol": 1e-11}).x
            if abs(between - held) < 1e-10:
                break
        else:
            raise AssertionError("ratio and spread do not settle")
        information = ones @ np.linalg.solve(self.covariance(ratio, between), ones)
        return ratio, between, 1.0 / information / ratio**2


def pairs(found: dict[str, list[Specimen]]) -> Ratio:
    cubes, cylinders = cells(found[CUBE]), cells(found[CYLINDER])
    shared = [key for key in cubes if key in cylinders]
    columns = []
    for geometry, each in ((CUBE, cubes), (CYLINDER, cylinders)):
        ages, cv = scatter_by_age(found[geometry])
        mean = np.array([fmean(each[key]) for key in shared])
        at = np.interp(np.log([key[3] for key in shared]), np.log(ages), cv)
        columns += [mean, at * mean / np.sqrt([len(each[key]) for key in shared])]
    return Ratio(np.array([key[0] for key in shared]), columns[0], columns[2], columns[1], columns[3])


@dataclass
class Whole:
    """Everything of the conversion by hand."""

    ratio: float
    variance: float  # of a new batch
    left_out: dict[str, float]
    residual: np.ndarray  # of pairs by the ratio without their batch
    batch: np.ndarray


def whole(found: dict[str, list[Specimen]]) -> Whole:
    stated = pairs(found)
    ratio, between, own = stated.fitted()
    batches = list(dict.fromkeys(stated.batch.tolist()))
    lines = {name: stated.of(stated.batch != name).fitted() for name in batches}
    left_out = {name: line[0] for name, line in lines.items()}
    residual = np.array(
        [left_out[b] * x / y - 1.0 for b, x, y in zip(stated.batch, stated.cube, stated.cylinder, strict=True)]
    )
    noise = (stated.cylinder_sd / stated.cylinder) ** 2 + (stated.cube_sd / stated.cube) ** 2
    shown = np.mean([np.mean((residual**2 - noise)[stated.batch == name]) for name in batches])
    said = np.mean([lines[name][1] ** 2 + lines[name][2] for name in batches])
    return Whole(ratio, max(1.0, shown / said) * (between**2 + own), left_out, residual, stated.batch)


def common(found: dict[str, list[Specimen]], stated: Whole, target_h: float) -> float:
    """Covariance over batches of strength and of what the conversion leaves; how much both fall short together."""
    each = cells(found[CUBE])
    names = list(stated.left_out)
    strength = [np.log(fmean(each[name, "standard", "", target_h])) for name in names]
    left = [float(np.mean(stated.residual[stated.batch == name])) for name in names]
    return -float(np.cov(strength, left, ddof=1)[0, 1])


def by_hand(folder: Path, *, truths: str, not_credited: float = 0.0) -> Candidates:
    """Every choice of cubes, converted.

    `truths` are ``cylinders`` with converted cubes where there are none, or ``cubes`` for the curve alone.
    """
    found = read(folder / "breaks.csv")
    stated = whole(found)
    shared = max(common(found, stated, 16.0), 0.0)
    specimens = [
        replace(one, strength_mpa=stated.ratio * one.strength_mpa) for one in found[CUBE] if one.curing != "site"
    ]
    measured = {key[0] for key in cells(found[CYLINDER]) if key[1] == "site"}
    n_of, cylinders = {}, [one for one in found[CYLINDER] if one.curing == "site"]
    for one in [one for one in found[CUBE] if one.curing == "site"] + cylinders:
        is_cylinder = one in cylinders
        if truths == "cubes":
            if not is_cylinder:
                specimens.append(replace(one, strength_mpa=stated.ratio * one.strength_mpa))
            continue
        if is_cylinder:
            mpa, spread = one.strength_mpa * stated.ratio / stated.left_out[one.batch], np.sqrt(not_credited)
        elif one.batch not in measured:
            mpa, spread = stated.ratio * one.strength_mpa, np.sqrt(stated.variance + 2.0 * shared)
        else:
            continue
        n_of[one.batch] = is_cylinder
        for place, sign in (("low", -1.0), ("high", 1.0)) if spread else ((one.placement, 0.0),):
            specimens.append(replace(one, placement=place, strength_mpa=mpa / (1.0 + sign * spread)))
    records = read_temperatures(folder / "temperatures.csv")
    for places in records.values():
        for place in ("low", "high"):
            places[place] = next(iter(places.values()))
    clock = Clock(records, ASKED.room_c)
    study = study_of(specimens, clock, ASKED.constants, [16.0], list(LIMITS.ages_h))
    study.cv_ages_h, study.cv = scatter_by_age(found[CUBE])
    ages, cv = scatter_by_age(found[CYLINDER])
    at_target = float(np.interp(np.log(16.0), np.log(ages), cv))
    for check in study.checks:
        if truths == "cylinders" and n_of[check.batch]:
            check.variance = at_target**2 / check.n
    return candidates_of(study, LIMITS, ASKED.curves, len(ASKED.constants))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plan")
    from_scenario(folder, scenario="sleepers")
    plan = write_plan(folder, ASKED, more=KINDS)
    text = plan.read_text(encoding="utf-8").replace("[target]\n", f'[target]\ngeometry = "{CYLINDER}"\n')
    plan.write_text(text.replace('assurance = "90 %"', 'assurance = "70 %"'), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def answer(folder: Path) -> GeometryAnswer:
    _, found = settled(load_plan(folder / "plan.toml"), Work.of(10, 1, 1, None))
    assert found is not None
    return found


def row_of(candidates: Candidates, found: GeometryOption) -> int:
    assert found.programme is not None
    wanted = found.programme.schedule
    for row in range(len(candidates.loss)):
        schedule, joint = candidates.of(row)
        is_it = (schedule.ages_h, schedule.counts) == (wanted.ages_h, wanted.specimens)
        if is_it and candidates.joints[joint][:2] == (found.programme.curve, found.programme.weighting):
            return row
    raise AssertionError(wanted)


def parts_of(geometries: GeometryAnswer) -> tuple[GeometryOption, ErrorParts]:
    cube = next(one for one in geometries.options if one.geometry == CUBE)
    assert cube.error is not None
    return cube, cube.error


def test_the_conversion_by_whole_matrices(folder: Path, answer: GeometryAnswer) -> None:
    by_matrices, (figures,) = whole(read(folder / "breaks.csv")), answer.conversions
    assert figures.form == "ratio"
    assert figures.ratio == pytest.approx(by_matrices.ratio, rel=1e-6)
    ((age, _, error),) = figures.deciding
    assert age == 16.0
    assert error == pytest.approx(np.sqrt(by_matrices.variance), rel=1e-3)
    assert [point.residual for point in figures.pairs] == pytest.approx(by_matrices.residual.tolist(), abs=1e-6)


def test_each_part_of_the_total_error(folder: Path, answer: GeometryAnswer) -> None:
    cube, error = parts_of(answer)
    by_matrices = whole(read(folder / "breaks.csv"))
    assert error.conversion_rms == pytest.approx(np.sqrt(by_matrices.variance), rel=1e-3)
    alone = by_hand(folder, truths="cubes")
    assert error.curve_rms == pytest.approx(judge_row(alone, row_of(alone, cube)).rms, rel=1e-4)
    total = by_hand(folder, truths="cylinders", not_credited=error.not_credited)
    judged = judge_row(total, row_of(total, cube))
    assert error.total_rms == pytest.approx(judged.rms, rel=1e-4)
    assert cube.within_tolerance == pytest.approx(judged.share, rel=1e-4)
    shown = by_hand(folder, truths="cylinders")
    assert error.shown_rms == pytest.approx(judge_row(shown, row_of(shown, cube)).rms, rel=1e-4)


def test_a_covariance_below_nought_is_put_back(answer: GeometryAnswer) -> None:
    cube, error = parts_of(answer)
    assert error.curve_rms is not None
    assert error.shown_covariance is not None
    assert error.shown_covariance < -2e-4  # the batches of the scenario show one
    assert error.not_credited > 0.0
    apart = error.curve_rms**2 + error.conversion_rms**2
    assert error.total_rms**2 == pytest.approx(apart, rel=0.01)
    assert error.total_rms >= error.curve_rms
    assert (cube.n_units, cube.n_measured) == (7, 5)


# ---- the decision ---------------------------------------------------------------------------------------------


def plain_decision(
    prices: list[float], rms: list[float], shares: list[float], assurance: float, immaterial: float
) -> tuple[int, GeometryReason]:
    """In words: one alone; the cheapest of those that are good enough; else the cheapest within a hair of the best."""
    searched = [at for at, error in enumerate(rms) if np.isfinite(error)]
    if len(searched) == 1:
        return searched[0], GeometryReason.ONLY_ONE
    enough = [at for at in searched if shares[at] >= assurance]
    if enough:
        return min(enough, key=lambda at: prices[at]), GeometryReason.CHEAPEST_ENOUGH
    best = min(rms[at] for at in searched)
    return (
        min((at for at in searched if rms[at] <= best + immaterial), key=lambda at: prices[at]),
        GeometryReason.CHEAPEST_TIED,
    )


def test_the_decision_is_the_rule_in_words(folder: Path) -> None:
    # 300 sets of two to four geometries, seed 21; prices differ, so that no two tie.
    rng, target = np.random.default_rng(21), load_plan(folder / "plan.toml").settings.target
    reasons = []
    for _ in range(300):
        n = int(rng.integers(2, 5))
        prices = [float(one) for one in rng.permutation(np.arange(400, 400 + n))]
        rms = [float(one) for one in rng.uniform(0.05, 0.056, n)]
        shares = [float(one) for one in rng.uniform(0.5, 0.75, n)]
        is_refused = rng.uniform(size=n) < 0.2
        is_refused[int(rng.integers(n))] = False
        options = [
            GeometryOption(geometry=f"cube {at} mm", refused="no pairs", is_recommended=False)
            if is_refused[at]
            else option(
                geometry=f"cube {at} mm", cost=prices[at], programme=programme(2, prices[at]),
                within_tolerance=shares[at],
                error=ErrorParts(total_rms=rms[at], curve_rms=rms[at], conversion_rms=0.0),
            )
            for at in range(n)
        ]  # fmt: skip
        rms = [np.nan if refused else one for one, refused in zip(rms, is_refused, strict=True)]
        wanted = plain_decision(prices, rms, shares, target.assurance, target.immaterial_difference)
        assert taken_geometry(options, target, "later pour") == wanted
        reasons.append(wanted[1])
    assert {*reasons} == {*GeometryReason}


def test_without_prices_the_specimens_decide(folder: Path) -> None:
    target = load_plan(folder / "plan.toml").settings.target
    few, many = (option(cost=None, programme=programme(n, None), within_tolerance=0.99) for n in (2, 3))
    assert taken_geometry([many, few], target, "later pour") == (1, GeometryReason.CHEAPEST_ENOUGH)


def test_the_recommended_one_is_what_the_rule_takes(folder: Path, answer: GeometryAnswer) -> None:
    target = load_plan(folder / "plan.toml").settings.target
    counts = [float(one.programme.n_specimens) if one.programme else np.nan for one in answer.options]
    rms = [one.error.total_rms if one.error else np.nan for one in answer.options]
    shares = [float(one.within_tolerance or 0.0) for one in answer.options]
    if len(set(counts)) == len(counts):
        at, because = plain_decision(counts, rms, shares, target.assurance, target.immaterial_difference)
        assert answer.options[at].is_recommended
        assert answer.because == because
    assert sum(one.is_recommended for one in answer.options) == 1
