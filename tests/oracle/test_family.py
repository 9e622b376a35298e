"""One rule for six invented mixes, against every breaking pattern of every mix judged one by one by hand."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from planner.cli.main import main
from planner.sweeping import family_plans
from planner.sweeping.family_plans import family_minimum
from tests.oracle.plain.candidates import Limits, Schedule
from tests.oracle.plain.least_programmes import LeastProgrammes
from tests.oracle.small_plans import AGES_H, Asked, by_hand, invent, write_plan

CLOSE = {"rtol": 2e-5, "atol": 1e-9}
MIXES = {f"mix-{n}": {"seed": 60 + n, "n_batches": 4, "target_h": 12.0, "n_each": 3} for n in range(6)}
ASKED = Asked(Limits(AGES_H, 2, 3, (2, 3), 8, tolerance=0.30), (12.0,), q_k=(5000.0,), final_set_h=3.0)
TIGHT = "mix-5"  # asks for more than it can keep


def asked_of(name: str) -> Asked:
    tolerance = 0.02 if name == TIGHT else ASKED.limits.tolerance
    return replace(ASKED, limits=replace(ASKED.limits, tolerance=tolerance))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("family")
    for name, how in MIXES.items():
        place = root / name
        place.mkdir()
        invent(place, **how)
        path = write_plan(place, asked_of(name))
        path.write_text(path.read_text().replace("[mix]\n", f'[mix]\nname = "{name}"\n'))
    return root


@pytest.fixture(scope="module")
def found(folder):
    return family_minimum(folder, n_draws=20, workers=1)


@pytest.fixture(scope="module")
def hand(folder):
    return {name: LeastProgrammes(by_hand(folder / name, asked_of(name)), 0.90) for name in MIXES}


def patterns(least: LeastProgrammes, *, only_kept: bool = True) -> dict[Schedule, float]:
    return {s: float(least.rms[at]) for at, s in enumerate(least.schedules) if least.keeps[at] or not only_kept}


def fewest_common(some: list[LeastProgrammes]) -> tuple[Schedule | None, int]:
    """Fewest specimens, then fewest ages, then the lowest error of the mix read worst."""
    kept = [patterns(least) for least in some if least.keeps.any()]
    common = set.intersection(*(set(each) for each in kept)) if kept else set()
    if not common:
        return None, 0
    return min(common, key=lambda s: (s.n, len(s.ages_h), max(each[s] for each in kept))), len(common)


def schedule_of(rule) -> Schedule | None:
    return None if rule is None else Schedule(tuple(rule.schedule.ages_h), tuple(rule.schedule.specimens))


def test_the_envelope_is_the_fewest_of_all_that_keep_every_mix(found, hand):
    envelope = found.result.together
    rule, n_common = fewest_common(list(hand.values()))
    assert rule is not None
    assert schedule_of(envelope.rule) == rule
    assert envelope.n_common == n_common
    able = [name for name, least in hand.items() if least.keeps.any()]
    assert 2 < len(able) < len(hand)  # else nothing is left out of the rule, or nothing is left in it
    assert len(envelope.unkept) == len(hand) - len(able)


def test_every_mix_has_its_own_price(found, hand):
    envelope = found.result.together
    rule = schedule_of(envelope.rule)
    for member in envelope.members:
        least = hand[member.plan.split("/")[0]]
        everything = patterns(least, only_kept=False)
        own = least.fewest(np.ones(len(least.n), dtype=bool))
        np.testing.assert_allclose(member.rms, everything[rule], **CLOSE)
        assert member.is_kept == (rule in patterns(least))
        assert schedule_of(member.own) == (None if own is None else least.schedules[own])
        if own is not None:
            assert member.specimens_more == rule.n - least.n[own] >= 0
            np.testing.assert_allclose(member.own_rms, least.rms[own], **CLOSE)
    kept = [member for member in envelope.members if member.is_kept]
    worst = max(kept, key=lambda member: member.rms)
    assert envelope.worst_mix == worst.mix
    np.testing.assert_allclose(envelope.worst_loss, worst.rms - worst.own_rms)


def test_each_mix_left_out_in_turn(found, hand):
    names = list(hand)
    assert [item.plan.split("/")[0] for item in found.result.together.left_out] == names
    for item in found.result.together.left_out:
        out = item.plan.split("/")[0]
        rule, _ = fewest_common([hand[name] for name in names if name != out])
        assert schedule_of(item.rule) == rule
        assert item.is_kept == (rule in patterns(hand[out]))
        np.testing.assert_allclose(item.rms, patterns(hand[out], only_kept=False)[rule], **CLOSE)


def test_ages_are_told_as_shares_of_the_targets_maturity(found, hand):
    envelope = found.result.together
    for share in envelope.shares:
        by_mix = []
        for least in hand.values():
            if not least.keeps.any():
                continue
            study = least.candidates.study
            typical = np.median([v.maturity_h[share.age_h][0] for v in study.views if share.age_h in v.maturity_h])
            by_mix.append(typical / np.median([check.maturity_h[0] for check in study.checks]))
        np.testing.assert_allclose((share.least, share.most), (min(by_mix), max(by_mix)))


def test_table_clause_screen_and_json_say_the_same(found, folder, capsys, monkeypatch):
    document = json.loads(found.json())
    assert document["schema"] == "test-age-planner/family/1"
    assert set(document) >= {"plans", "envelope", "left_out", "clause"}
    monkeypatch.setattr(family_plans, "family_minimum", lambda *_, **__: found)  # worked out once is enough
    with pytest.raises(SystemExit) as left:
        main(["minimum", str(folder), "--draws", "20", "--workers", "1", "--json"])
    assert left.value.code == 0
    assert json.loads(capsys.readouterr().out)["envelope"] == document["envelope"]
    envelope = found.result.together
    clause = found.result.clause
    assert tuple(age.age_h for age in clause.ages) == envelope.rule.schedule.ages_h
    assert tuple(age.n_specimens for age in clause.ages) == envelope.rule.schedule.specimens
    assert len(clause.curves) == sum(member.is_kept for member in envelope.members)
    assert clause.error.worst_mix == envelope.worst_mix
    rms = clause.error.own_batch_rms if clause.error.later_rms is None else clause.error.later_rms
    np.testing.assert_allclose(rms, max(member.rms for member in envelope.members if member.is_kept))
    text = repr(found)
    assert "carry no percentage" in text
    assert f"NOT for {', '.join(envelope.unkept)}" in " ".join(text.split())
