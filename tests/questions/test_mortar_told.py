"""A plan with cubes of mortar: searched with their constants, told on every output, and a contradiction is said."""

from __future__ import annotations

import json

import pytest

from planner.questions.recommending import recommend
from planner.report.figures.constants_chart import constants_plots
from planner.report.figures.drawing.plot import Line
from planner.report.text.plain_blocks import plain_sections
from tests.oracle.plain.candidates import Limits
from tests.oracle.small_plans import AGES_H, Asked, invent, write_plan
from tests.published.test_constants_from_mortar import cubes
from tests.read.test_mortar_file import rows_of

ASKED = Asked(Limits(AGES_H, 3, 4, (2, 3), 9), (12.0,), q_k=(2000.0, 8000.0), datum_c=(0.0,), curves=("logarithmic",))


@pytest.fixture(scope="module")
def advice(tmp_path_factory):
    folder = tmp_path_factory.mktemp("mortar")
    invent(folder, seed=8, n_batches=5, target_h=12.0, n_each=3)
    path = write_plan(folder, ASKED)
    path.write_text(path.read_text().replace("[maturity]\n", '[maturity]\nmortar = "mortar.csv"\n'))
    (folder / "mortar.csv").write_text("\n".join(rows_of(cubes(cv=0.02, n_each=3, seed=3))) + "\n")
    return recommend(path, n_draws=20, workers=1)


def test_only_constants_that_the_mortar_leaves_are_searched(advice):
    mortar = advice.recommendation.mortar
    assert mortar.q_k.dropped == (2000.0, 8000.0)
    found = {
        choice.maturity
        for choice in (advice.recommendation.recommended, *advice.recommendation.tied, *advice.recommendation.next_best)
    }
    assert {one.constant for one in found if one.method == "equivalent age"} <= {mortar.q_k.taken}


def test_every_output_tells_it(advice, tmp_path):
    mortar = advice.recommendation.mortar
    text = " ".join(plain_sections(advice.account()).split())
    assert f"Q {mortar.q_k.value:.0f} K, standard error {mortar.q_k.standard_error:.0f}, 95 % from" in text
    assert "Left out, outside the interval: 2000, 8000 K." in text
    assert "The concrete itself is read about equally well" in text
    advice.write(tmp_path)
    document = json.loads((tmp_path / "recommendation.json").read_text())
    assert document["mortar"]["q_k"]["value"] == pytest.approx(mortar.q_k.value)
    assert [rate["temperature_c"] for rate in document["mortar"]["rates"]] == [8.0, 23.0, 38.0]
    assert "mortar.csv" in document["inputs"]
    page = (tmp_path / "report.html").read_text()
    assert "Maturity constants from mortar" in page
    assert f"{mortar.rates[0].rate_per_d:.4g}" in page
    drawn = [line for plot in constants_plots(advice.recommendation) for line in plot.layers if isinstance(line, Line)]
    found = [line for line in drawn if line.label.startswith("mortar")]
    assert [line.points[0][0] for line in found] == [mortar.q_k.value, mortar.datum_c.value]
