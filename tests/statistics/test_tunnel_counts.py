"""The study of counts on fresh tunnel batches, small."""

from __future__ import annotations

import pytest

from planner.read import load_plan

from .tunnel_counts import PLAN, fresh_segments, judged


@pytest.mark.slow
def test_equal_counts_at_the_recommended_ages_are_no_better_for_no_more_money() -> None:
    # 600 fresh batches, common to all rows: the same fits but for one or two specimens, so that the difference of
    # two errors is known to a few thousandths of itself. A fixed seed.
    plan = load_plan(PLAN)
    recommended, same_ages, any_ages = judged(plan, fresh_segments(600, plan))
    assert [label for label, *_ in (recommended, same_ages, any_ages)] == [
        "recommended",
        "same ages, equal counts",
        "any ages, equal counts",
    ]
    assert len(set(same_ages[1].schedule.specimens)) == len(set(any_ages[1].schedule.specimens)) == 1
    costs = [row[1].cost for row in (recommended, same_ages, any_ages)]
    assert None not in costs
    assert max(cost for cost in costs if cost is not None) == recommended[1].cost
    assert recommended[2] <= same_ages[2]
