"""Every cell of the tables of held-out figures under its own heading, read back as a number."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from planner.report.accounts.parts.validation_tables import (
    age_table,
    fold_table,
    honest_table,
    later_table,
    limit_table,
    mix_table,
    target_table,
)
from planner.report.text.blocks import Table
from planner.terms.results.mix_errors import MixErrors, WorstMix
from planner.terms.results.recommended.validation_figures import TargetVerdict
from tests.report.invented_result import invented_recommendation


def number(cell: str) -> float | None:
    found = re.search(r"[+\u2212-]?[\d.]+", cell)
    return None if found is None else float(found[0].replace("\u2212", "-"))


def by_heading(table: Table) -> list[dict[str, str]]:
    headings = [column.heading for column in table.columns]
    assert len(set(headings)) == len(headings)
    return [dict(zip(headings, row, strict=True)) for row in table.rows]


@pytest.fixture
def stated():
    return invented_recommendation()


@pytest.mark.parametrize("table", [honest_table, later_table])
def test_held_out_figures(stated, table):
    rows = by_heading(table(stated))
    own = next(row for row in rows if row["curve read on"].startswith("own batch"))
    later = next(row for row in rows if row["curve read on"].endswith("later pour"))
    for row, verdict, rms in ((own, stated.honest.own_batch, 0.042), (later, stated.honest.next_batch, 0.094)):
        assert number(row["RMS error"]) == pytest.approx(100 * rms)
        assert number(row["upper 95 %"]) == pytest.approx(100 * verdict.rms_upper_95)
        assert number(row["inside"]) == pytest.approx(100 * verdict.within_tolerance)
        assert number(row["lower 95 %"]) == pytest.approx(100 * verdict.within_tolerance_lower_95)
        assert number(row["over"]) == pytest.approx(100 * verdict.over_predicted_beyond_tolerance)


def test_the_means_of_several_trial_batches_are_counted(stated):
    assert "8.2 % with 2, 7.8 % with 3." in later_table(stated).note


def test_what_is_taken_and_the_best_stand_in_their_own_rows(stated):
    rows = {row["curve read on"]: number(row["RMS error"]) for row in by_heading(honest_table(stated))}
    assert rows["always taking the best"] == 3.9
    assert rows["the same, batches resampled"] == 4.4


def test_targets(stated):
    verdict = TargetVerdict(
        age_h=6.0, nested_rms=0.031, rms_upper_95=0.072, within_tolerance=0.93,
        over_predicted_beyond_tolerance=0.04, next_batch_rms=0.105,
    )  # fmt: skip
    (row,) = by_heading(target_table(replace(stated, honest=replace(stated.honest, per_target=(verdict,)))))
    found = {heading: number(cell) for heading, cell in row.items() if heading != "target"}
    assert row["target"] == "6 h"
    assert found == {"RMS, own batch": 3.1, "upper 95 %": 7.2, "inside": 93, "over": 4, "RMS, later pour": 10.5}


def test_folds(stated):
    rows = by_heading(fold_table(stated))
    for row, fold in zip(rows, stated.honest.folds, strict=False):
        assert row["held out"] == fold.held_out
        assert (number(row["error there"]) or 0.0) == pytest.approx(100 * fold.error, abs=0.051)


def test_mixes_read_worst(stated):
    worst = (
        WorstMix(mix="M3", error=0.41, strength_mpa=3.2, last_age_h=168.0),
        WorstMix(mix="M9", error=-0.33, strength_mpa=55.0, last_age_h=672.0),
    )
    mixes = MixErrors(
        basis="own batch", n_mixes=20, quantile_abs=0.08, quantile_upper_95=0.15, n_more_for_quantile=0,
        n_more_for_safe_reading=2, worst_fifth_share=0.9, is_heavy_tailed=True, worst=worst, in_common=(),
    )  # fmt: skip
    rows = by_heading(mix_table(replace(stated, honest=replace(stated.honest, mixes=mixes))))
    assert [row["mixes read worst"] for row in rows] == ["M3", "M9"]
    assert [number(row["error"]) for row in rows] == [41.0, -33.0]
    assert [number(row["strength, MPa"]) for row in rows] == [3.2, 55.0]
    assert [row["last broken at"] for row in rows] == ["7 d", "28 d"]


def test_the_limit_is_the_least_scatter_and_the_schedules_own_comes_next(stated):
    rms = [number(row["RMS"]) for row in by_heading(limit_table(stated))]
    assert rms == [pytest.approx(100 * each) for each in (stated.limit.rms, stated.limit.schedule_rms, 0.042)]
    assert stated.limit.rms < stated.limit.schedule_rms


def test_ages(stated):
    changed = tuple(
        replace(role, inclusion=0.1 * place, rms_if_dropped=0.05 + 0.01 * place, rms_if_added=0.03 + 0.01 * place)
        for place, role in enumerate(stated.ages)
    )
    for place, row in enumerate(by_heading(age_table(replace(stated, ages=changed)))):
        assert number(row["how often in the best schedule"]) == pytest.approx(10 * place)
        assert number(row["RMS if dropped"]) == pytest.approx(5 + place)
        assert number(row["RMS if added"]) == pytest.approx(3 + place)
