"""The sleepers' answer worked out a second time, and a plan of one geometry beside one that lists it."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest

from planner.conversion.stated_conversions import conversion_for
from planner.geometry_choice import plan_of, settled
from planner.pipeline import recommend
from planner.read import load_plan
from planner.steps.searching import Work
from planner.terms.plan.specimen_kinds import SpecimenKind

ROOT = Path(__file__).resolve().parents[2]
SLEEPERS = ROOT / "scenarios" / "sleepers" / "plan.toml"
CUBE, CYLINDER = "cube 150 mm", "cylinder 150x300 mm"


def means() -> dict[str, dict[tuple[str, str, float], float]]:
    """Mean strength by geometry, then batch, curing and age, read from the table alone."""
    found: dict[str, dict[tuple[str, str, float], list[float]]] = defaultdict(lambda: defaultdict(list))
    with (SLEEPERS.parent / "breaks.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            key = (row["batch"], row["curing"], float(row["age_h"]))
            found[row["geometry"]][key].append(float(row["strength_mpa"]))
    return {geometry: {key: fmean(each) for key, each in cells.items()} for geometry, cells in found.items()}


def test_ratio_and_truths_of_the_sleepers_by_hand() -> None:
    plan, found = load_plan(SLEEPERS), means()
    kind = next(one for one in plan.settings.specimens if one.geometry == CUBE)
    conversion = conversion_for(plan.records, plan.settings, kind)
    assert conversion is not None
    assert conversion.form == "ratio"
    ratios = defaultdict(list)
    for key, cylinder in found[CYLINDER].items():
        ratios[key[0]].append(cylinder / found[CUBE][key])
    assert sorted(ratios) == ["P1", "P2", "P4", "P5", "P7"]
    # Weights differ from equal ones by the scatter of the means alone, so plain means come within a third of the error.
    plain = fmean(fmean(each) for each in ratios.values())
    assert conversion.line.factor == pytest.approx(plain, abs=0.003)
    spread = np.std([fmean(each) for each in ratios.values()], ddof=1) / plain
    assert conversion.line.between == pytest.approx(spread, rel=0.35)
    alone = plan_of(plan, kind, conversion)
    for batch in ratios:
        site = [item for item in alone.records.breaks if item.batch == batch and item.curing == "site"]
        left_out = conversion.judged["ratio"].left_out[batch].factor
        others = fmean(fmean(each) for name, each in ratios.items() if name != batch)
        assert left_out == pytest.approx(others, abs=0.004)
        measured = found[CYLINDER][batch, "site", 16.0]
        assert fmean(item.strength_mpa for item in site) == pytest.approx(
            measured * conversion.line.factor / left_out, rel=1e-9
        )
        assert {item.conversion_cv for item in site} == {0.0}
    for batch in ("P3", "P6"):
        site = [item for item in alone.records.breaks if item.batch == batch and item.curing == "site"]
        assert fmean(item.strength_mpa for item in site) == pytest.approx(
            found[CUBE][batch, "site", 16.0] * conversion.line.factor, rel=1e-9
        )
        assert site[0].conversion_cv > 0.015


def test_one_listed_geometry_is_searched_as_if_it_were_selected(tmp_path: Path) -> None:
    text = SLEEPERS.read_text(encoding="utf-8")
    head, _, rest = text.partition("[[specimens]]")
    last = rest[rest.index("[costs]") :]
    listed = f'{head}[[specimens]]\ngeometry = "{CYLINDER}"\n\n{last}'
    fixed = head.replace("[prior]", f'[prior]\ngeometry = "{CYLINDER}"') + last
    for name in ("breaks.csv", "temperatures.csv"):
        (tmp_path / name).write_bytes((SLEEPERS.parent / name).read_bytes())
    (tmp_path / "listed.toml").write_text(listed, encoding="utf-8")
    (tmp_path / "fixed.toml").write_text(fixed, encoding="utf-8")
    work = Work.of(10, 1, 1, None)
    several, one = load_plan(tmp_path / "listed.toml"), load_plan(tmp_path / "fixed.toml")
    unchanged, none = settled(one, work)
    assert unchanged is one
    assert none is None
    (kind,) = several.settings.specimens
    assert kind == SpecimenKind(geometry=CYLINDER)
    alone = plan_of(several, kind, None)
    assert alone.records.breaks == one.records.breaks
    assert alone.settings == replace(one.settings, title=alone.settings.title)
    # The whole answer, to the last bit; only what names the choice of a geometry and the run itself may differ.
    of_listed, of_fixed = (recommend(plan, n_draws=10, workers=1) for plan in (several, one))
    assert of_listed.geometries is not None
    assert of_listed.geometries.conversions == ()
    assert of_listed.geometries.recommended.error is not None
    assert of_listed.geometries.recommended.error.not_credited == 0.0
    for part in ("recommended", "best", "honest", "spending", "estimate", "programme", "growth", "next_best"):
        found, wanted = getattr(of_listed, part), getattr(of_fixed, part)
        assert repr(found) == repr(wanted), part
