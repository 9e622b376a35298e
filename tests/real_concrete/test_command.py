"""The public command on published mixes, recomputed by a second and plain implementation."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.real_concrete import plain
from tests.real_concrete.data import MixSet, mix_sets
from tests.real_concrete.programme import Advice, advice_of, run_command, write_programme
from tests.real_concrete.realised import Realised

TARGET_H = 28 * 24.0


@pytest.fixture(scope="module")
def mixes() -> MixSet:
    return mix_sets()[2]


@pytest.fixture(scope="module")
def document(mixes: MixSet, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("published")
    return run_command(write_programme(folder, mixes, mixes.records, TARGET_H, [mixes.ages_h[:2]]))


@pytest.fixture(scope="module")
def advice(document: dict[str, Any]) -> Advice:
    return advice_of(document)


@pytest.mark.slow
def test_command_runs_as_a_program_and_says_the_same(mixes: MixSet, document: dict[str, Any], tmp_path: Path) -> None:
    plan = write_programme(tmp_path, mixes, mixes.records, TARGET_H, [mixes.ages_h[:2]])
    command = [sys.executable, "-m", "planner.cli.main", "recommend", str(plan), "--json", "--draws", "200"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    found = json.loads(done.stdout)
    for key in ("recommended", "best", "honest"):
        assert found[key] == document[key]


def test_command_holds_out_whole_mixes(mixes: MixSet, document: dict[str, Any], advice: Advice) -> None:
    assert document["evidence"]["n_batches"] == 17
    assert document["evidence"]["checked_against"] == "standard-cured"
    assert [mix for mix, *_ in advice.folds] == [record.name for record in mixes.records]
    assert all(TARGET_H not in choice.ages_h for choice in (advice.recommended, advice.best))


def test_errors_of_left_out_mixes_agree_with_the_table_of_all_errors(mixes: MixSet, advice: Advice) -> None:
    realised = Realised(mixes, TARGET_H)
    names = [record.name for record in mixes.records]
    for mix, choice, error in advice.folds:
        assert realised.of(choice, [names.index(mix)])[0] == pytest.approx(error, abs=1e-9)


@pytest.mark.slow
def test_cross_validated_error_agrees_with_a_plain_recomputation(mixes: MixSet, advice: Advice) -> None:
    """Every left-out mix by `curve_fit` from many starts, with the choice that was made without it."""
    by_name = {record.name: record for record in mixes.records}
    squares = []
    for mix, choice, error in advice.folds:
        found = plain.rms_error([by_name[mix]], list(choice.ages_h), choice.curve, choice.weighting, TARGET_H)
        assert found == pytest.approx(abs(error), abs=5e-5)  # 0.01 % printed
        squares.append(found**2)
    stated = np.sqrt(np.mean([error**2 for *_, error in advice.folds]))
    assert np.sqrt(np.mean(squares)) == pytest.approx(stated, abs=5e-5)


@pytest.mark.slow
def test_a_dozen_choices_agree_with_a_plain_recomputation(mixes: MixSet) -> None:
    """The error of every curve and weighting with three ages and with four, on the first mixes."""
    realised = Realised(mixes, TARGET_H)
    first = range(3)
    schedules = (mixes.ages_h[:2] + mixes.ages_h[3:4], mixes.ages_h[:2] + mixes.ages_h[3:])
    wanted = [choice for choice in realised.choices if choice.ages_h in schedules]
    assert len(wanted) == 16
    for choice in wanted:
        found = plain.rms_error(
            [mixes.records[i] for i in first], list(choice.ages_h), choice.curve, choice.weighting, TARGET_H
        )
        assert realised.rms(choice, first) == pytest.approx(found, abs=5e-5)


@pytest.mark.parametrize(
    ("curve", "expected"),
    [
        ("piecewise linear", 25.0),  # half way from 20 to 30
        ("piecewise linear in log age", 20.0 + 10.0 * np.log(3.0) / np.log(5.0)),
        ("logarithmic", 20.0 + 10.0 * np.log(3.0) / np.log(5.0)),  # two points: the same line
    ],
)
def test_plain_implementation_knows_answers_by_hand(curve: str, expected: float) -> None:
    assert plain.predict([24.0, 120.0], [20.0, 30.0], curve, "absolute", 72.0) == pytest.approx(expected)


def test_plain_implementation_finds_the_curves_that_made_the_means() -> None:
    ages = [24.0, 72.0, 168.0, 672.0]
    grown = [float(plain.hyperbolic(np.array(age), 50.0, 60.0, 5.0)) for age in ages]
    expected = 50.0 * (336.0 - 5.0) / (336.0 - 5.0 + 60.0)
    assert plain.predict(ages, grown, "hyperbolic", "relative", 336.0) == pytest.approx(expected, rel=1e-7)
    grown = [float(plain.exponential(np.array(age), 50.0, 40.0, 0.8)) for age in ages]
    expected = 50.0 * np.exp(-((40.0 / 336.0) ** 0.8))
    assert plain.predict(ages, grown, "exponential", "absolute", 336.0) == pytest.approx(expected, rel=1e-7)
