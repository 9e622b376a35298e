"""What the commands print as JSON, key by key, against the figures worked out by hand from the tables."""

from __future__ import annotations

import json

import numpy as np
import pytest

from planner.cli.main import main
from tests.oracle.plain.bounds import safe_factor
from tests.oracle.plain.candidates import Limits
from tests.oracle.plain.figures import assembled, own_batch_figures, rms_of, worst_signed
from tests.oracle.plain.later_pours import batch_equivalents, later_pour_figures, pairs_of, used_of_pair
from tests.oracle.plain.least_programmes import LeastProgrammes
from tests.oracle.plain.restrictions import Restricted
from tests.oracle.plain.rule import folds, pick
from tests.oracle.plain.sufficiency import answer
from tests.oracle.plain.taken import take
from tests.oracle.small_plans import Asked, by_hand, from_scenario, write_plan

CLOSE = {"rtol": 2e-5, "atol": 1e-9}
ASKED = Asked(
    Limits((4.0, 6.0, 8.0, 12.0, 72.0), 3, 4, (2, 3), 10, least_strength_mpa=3.0), (6.0,), q_k=(4000.0, 5000.0),
    final_set_h=1.5,
)  # fmt: skip


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan")
    from_scenario(folder, scenario="runway-panels")
    return write_plan(folder, ASKED)


@pytest.fixture(scope="module")
def candidates(plan):
    return by_hand(plan.parent, ASKED)


@pytest.fixture(scope="module")
def used(candidates):
    return [candidates.of(take(candidates, unit).row) for unit in range(len(candidates.study.units))]


@pytest.fixture
def printed(plan, capsys):
    def run(command):
        with pytest.raises(SystemExit) as left:
            main([command, str(plan), "--json", "--draws", "50", "--workers", "1"])
        assert left.value.code == 0
        return json.loads(capsys.readouterr().out)

    return run


def same_schedule(found, schedule):
    assert (tuple(found["ages_h"]), tuple(found["specimens"])) == (schedule.ages_h, schedule.counts)


def test_recommend(printed, candidates, used):
    of_pair = used_of_pair(candidates)
    found = printed("recommend")
    honest = found["honest"]
    own = own_batch_figures(candidates, used)
    for name in ("nested_rms", "rms_upper_95", "nested_p80_abs", "within_tolerance_lower_95_free"):
        np.testing.assert_allclose(honest["own_batch"][name], own[name], err_msg=name, **CLOSE)
    lower = own["within_tolerance_lower_95"]
    np.testing.assert_allclose(honest["own_batch"]["within_tolerance_lower_95"], lower, atol=0.01)
    for name, wanted in later_pour_figures(candidates, used, of_pair).items():
        within = {"atol": 0.01} if name == "within_tolerance_lower_95" else CLOSE
        np.testing.assert_allclose(honest["next_batch"][name], wanted, err_msg=name, **within)
    wanted = safe_factor(batch_equivalents(pairs_of(candidates, used, of_pair)), assurance=0.90)
    np.testing.assert_allclose(honest["safe_reading_factor"], wanted, **CLOSE)
    best = assembled(candidates, [candidates.of(each.best) for each in folds(candidates)])
    np.testing.assert_allclose(honest["best"]["nested_rms"], rms_of(candidates, best), **CLOSE)
    signed = worst_signed(candidates, assembled(candidates, used))
    np.testing.assert_allclose([fold["error"] for fold in honest["folds"]], signed, **CLOSE)
    taken = take(candidates)
    same_schedule(found["recommended"], candidates.of(taken.row)[0])
    same_schedule(found["best"], candidates.of(pick(candidates, list(range(len(candidates.study.units)))).best)[0])
    assert found["recommended"]["n_specimens"] == candidates.of(taken.row)[0].n
    programme = found["recommended_programme"]
    same_schedule(programme, candidates.of(taken.row)[0])
    assert (programme["n_trial_batches"], programme["n_specimens"]) == (1, found["recommended"]["n_specimens"])
    for name, wanted in (
        ("rms", taken.judged.rms), ("within_tolerance", taken.judged.share),
        ("over_predicted_beyond_tolerance", taken.judged.beyond),
    ):  # fmt: skip
        np.testing.assert_allclose(programme["next_batch"][name], wanted, err_msg=name, **CLOSE)
    assert programme in found["programmes"]
    assert found["search"]["n_joint_choices"] == len(candidates.loss)
    enough = answer(candidates, 0.90)
    assert (found["enough"] is not None) == enough["is_reached"]
    assert found["evidence"]["grade"] == "measured"
    assert found["evidence"]["n_batches"] == len(candidates.study.units)


def test_price(printed, candidates):
    found = printed("price")
    restricted = Restricted(candidates)
    n = np.array([float(schedule.n) for schedule in candidates.schedules])
    wanted = restricted.frontier(n)
    points = found["frontier_by_specimens"]
    assert len(points) == len(wanted)
    for point, (limit, standing, rms) in zip(points, wanted, strict=True):
        assert (point["limit"], point["n_specimens"]) == (limit, standing.schedule.n)
        same_schedule(point, standing.schedule)
        np.testing.assert_allclose(point["rms"], rms, **CLOSE)
        np.testing.assert_allclose(point["later_rms"], restricted.later(standing)["rms"], **CLOSE)


def test_minimum(printed, candidates):
    found = printed("minimum")["together"]
    least = LeastProgrammes(candidates, 0.90)
    assert (found["n_programmes"], found["n_keeping"]) == (len(least.n), int(least.keeps.sum()))
    assert {item["of"] for item in found["leasts"]} == set(least.leasts())
    for item in found["leasts"]:
        at = least.leasts()[item["of"]]
        same_schedule(item["programme"], least.schedules[at])
        np.testing.assert_allclose(item["programme"]["next_batch"]["rms"], least.rms[at], **CLOSE)
    for age in found["ages"]:
        assert age["need"] == least.need(age["age_h"])[0]


def test_the_lowest_later_pour_error_that_is_not_taken(tmp_path, capsys):
    """Own-batch losses rank ages and curve, so a schedule of lower later-pour error is named and not recommended."""
    asked = Asked(Limits((8.0, 10.0, 14.0, 24.0, 72.0), 3, 3, (2, 2), 9), (14.0,), q_k=(5000.0,))
    from_scenario(tmp_path, scenario="tunnel-segments")
    path = write_plan(tmp_path, asked)
    with pytest.raises(SystemExit):
        main(["recommend", str(path), "--json", "--draws", "50", "--workers", "1"])
    found = json.loads(capsys.readouterr().out)
    by_tables = by_hand(tmp_path, asked)
    every = LeastProgrammes(by_tables, 0.90)
    lowest = int(np.argmin(every.rms))
    assert every.rms[lowest] < found["recommended_programme"]["next_batch"]["rms"] - 0.0025
    stated = found["spending"]["lowest"]
    same_schedule(stated, every.schedules[lowest])
    np.testing.assert_allclose(stated["next_batch"]["rms"], every.rms[lowest], **CLOSE)
    used = [by_tables.of(every.rows[lowest])] * len(by_tables.study.units)
    own = rms_of(by_tables, assembled(by_tables, used))
    np.testing.assert_allclose(stated["own_batch"]["rms"], own, **CLOSE)
    assert f"{100 * every.rms[lowest]:.2f} %, has " in found["reasons"][-1]
    assert f"with {100 * own:.1f} % on its own concrete" in found["reasons"][-1]
