"""Safe readings on the screen: for the plan's own strengths, with what the factor means, never from drawn batches."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from statistics import fmean

import pytest

from tests.report.scenario_outputs import advice_of

SCENARIOS = Path(__file__).resolve().parents[3] / "scenarios"


def test_strengths_of_the_plan_with_what_the_factor_means() -> None:
    folder = SCENARIOS / "runway-panels"
    advice = advice_of("opening at 6 h")
    text = next(caution.text for caution in advice.cautions if caution.code == "over-prediction")
    with (folder / "breaks.csv").open(newline="") as table:
        rows = [row for row in csv.DictReader(table) if row["curing"] == "site" and float(row["age_h"]) == 6.0]
    assert rows
    by_cell: dict[tuple[str, str], list[float]] = {}
    for row in rows:
        by_cell.setdefault((row["batch"], row["placement"]), []).append(float(row["strength_mpa"]))
    usual = fmean(fmean(cell) for cell in by_cell.values())
    factor = advice.honest.safe_reading_factor
    assert factor is not None
    found = re.search(r"must read ([0-9.]+) times .* targets ([0-9.]+) MPa for ([0-9.]+) MPa\); (\d+ %) of pours", text)
    assert found is not None, text
    assert factor <= float(found[1]) < factor + 0.01  # rounded up: a lower factor would promise more than is known
    assert float(found[2]) == pytest.approx(float(found[1]) * float(found[3]), abs=0.1)
    assert float(found[2]) >= float(found[1]) * float(found[3]) - 1e-9
    assert float(found[3]) == pytest.approx(usual, abs=0.06)
    assert found[4] == "10 %"


@pytest.mark.parametrize("name", ["tunnel, sparse", "stair core"])
def test_no_safe_reading_from_drawn_batches(name: str) -> None:
    advice = advice_of(name)
    assert advice.honest.safe_reading_factor is None
    assert not any("must read" in caution.text for caution in advice.cautions)
