"""Of constants that tie the careful one, in every fold too, and the safe reading it lowers: from the tables by hand."""

from __future__ import annotations

from itertools import combinations
from math import exp

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.read import load_plan
from tests.oracle.plain.bounds import safe_factor
from tests.oracle.plain.candidates import Limits
from tests.oracle.plain.later_pours import batch_equivalents, pairs_of
from tests.oracle.plain.programmes import judge, own_readings, readings
from tests.oracle.plain.taken import take_without
from tests.oracle.small_plans import AGES_H, Asked, by_hand, invent, write_plan
from tests.oracle.test_headline_figures import CLOSE
from tests.oracle.test_waiting_and_constants import lines

SITE_C = (4.0, 24.0)
IMMATERIAL = 0.012
ASKED = Asked(
    Limits(AGES_H, 3, 4, (2, 3), 9), (12.0,), q_k=(3900.0, 4200.0, 4500.0, 4800.0), curves=("logarithmic",)
)  # fmt: skip


def gained(q_k, temperature_c):
    return exp(-q_k * (1 / (temperature_c + 273.15) - 1 / 293.15))


def careful(candidates, row, out):
    """The joint taken instead, and the constants that tie with it."""
    schedule, joint = candidates.of(row)
    mine = candidates.joints[joint]
    n_units = len(candidates.study.units)
    errors = {}
    for other, one in enumerate(candidates.joints):
        if one[:2] == mine[:2]:
            checks = [readings(candidates, schedule, other, out), own_readings(candidates, schedule, other, out)]
            errors[other] = [judge(each, 1, 0.10, n_units).rms for each in checks]
    least = np.min(list(errors.values()), axis=0)
    tied = [one for one, found in errors.items() if one == joint or np.all(np.array(found) <= least + IMMATERIAL)]
    q = {one: ASKED.q_k[candidates.joints[one][2]] for one in tied}

    def exceeds(one):
        return max(gained(q[one], end) / min(gained(q[other], end) for other in tied) for end in SITE_C)

    return min(tied, key=exceeds), tied


@pytest.fixture(scope="module")
def both(tmp_path_factory, without_what_comes_after_casting):  # noqa: ARG001
    folder = tmp_path_factory.mktemp("careful")
    invent(folder, seed=8, n_batches=5, target_h=12.0, n_each=3)
    low, high = SITE_C
    path = write_plan(folder, ASKED, more=f"[site]\nmean_concrete_temperature_c = [{low}, {high}]\n")
    path.write_text(path.read_text().replace("[choices]", f"immaterial = {IMMATERIAL}\n[choices]"))
    candidates = by_hand(folder, ASKED)
    return folder, recommend(load_plan(path), n_draws=50, workers=1), candidates


def taken(candidates, *out):
    row = take_without(candidates, out).row
    schedule, joint = candidates.of(row)
    instead, tied = careful(candidates, row, out)
    return schedule, joint, instead, tied


def test_the_careful_constant_is_taken(both):
    _, stated, candidates = both
    schedule, joint, instead, tied = taken(candidates)
    assert instead != joint, "otherwise this plan tells nothing"
    assert len(tied) >= 2
    q = ASKED.q_k[candidates.joints[instead][2]]
    found = stated.recommended
    assert (found.schedule.ages_h, found.schedule.specimens) == (schedule.ages_h, schedule.counts)
    assert found.maturity.constant == stated.careful.chosen == q
    assert stated.careful.tied == tuple(sorted(ASKED.q_k[candidates.joints[one][2]] for one in tied))
    assert stated.spending.recommended.maturity == found.maturity
    assert stated.careful.site_c == SITE_C


def test_it_is_taken_in_every_fold(both):
    _, found, candidates = both
    changed = 0
    for unit, fold in enumerate(found.honest.folds):
        schedule, joint, instead, _ = taken(candidates, unit)
        assert (fold.schedule.ages_h, fold.schedule.specimens) == (schedule.ages_h, schedule.counts)
        assert fold.maturity.constant == ASKED.q_k[candidates.joints[instead][2]]
        changed += instead != joint
    assert changed > 0


def over_by_hand(folder, stated, candidates):
    """The reading at each end over the least that a tied constant would give, as many hours as the target asks."""
    _, _, instead, tied = taken(candidates)
    q = [ASKED.q_k[candidates.joints[one][2]] for one in tied]
    mine = ASKED.q_k[candidates.joints[instead][2]]
    level, slope = lines(folder, stated, ASKED)[0].mean(axis=0)
    found = {
        end: (level + slope * np.log(12.0 * gained(mine, end) / min(gained(one, end) for one in q)))
        / (level + slope * np.log(12.0))
        - 1.0
        for end in SITE_C
    }
    return max(found.values()), max(found, key=lambda end: found[end])


def test_what_may_be_over_read(both):
    folder, found, candidates = both
    over, end = over_by_hand(folder, found, candidates)
    assert over > 0.005
    assert found.careful.over_reading == pytest.approx(over, rel=1e-5)
    assert found.careful.worst_c == end


def test_the_safe_reading_is_lowered_by_it(both):
    folder, found, candidates = both
    used = []
    for unit in range(len(candidates.study.units)):
        schedule, _, instead, _ = taken(candidates, unit)
        used.append((schedule, instead))
    of_pair = {}
    for two in combinations(range(len(candidates.study.units)), 2):
        schedule, _, instead, _ = taken(candidates, *two)
        of_pair[two] = of_pair[two[::-1]] = (schedule, instead)
    plain = safe_factor(batch_equivalents(pairs_of(candidates, used, of_pair)), assurance=0.90)
    wanted = plain * (1.0 + over_by_hand(folder, found, candidates)[0])
    np.testing.assert_allclose(found.honest.safe_reading_factor, wanted, **CLOSE)
    fixed = [taken(candidates)[0], taken(candidates)[2]]
    apparent = safe_factor(
        batch_equivalents(pairs_of(candidates, [tuple(fixed)] * len(candidates.study.units))), assurance=0.90
    )
    np.testing.assert_allclose(
        found.spending.recommended.next_batch.safe_reading_factor,
        apparent * (1.0 + over_by_hand(folder, found, candidates)[0]),
        **CLOSE,
    )


def test_without_a_range_of_the_site_nothing_is_asked(both):
    folder, _, candidates = both
    path = write_plan(folder, ASKED)
    path.write_text(path.read_text().replace("[choices]", f"immaterial = {IMMATERIAL}\n[choices]"))
    advice = recommend(load_plan(path), n_draws=50, workers=1)
    _, joint, *_ = taken(candidates)
    assert advice.careful is None
    assert advice.recommended.maturity.constant == ASKED.q_k[candidates.joints[joint][2]]
