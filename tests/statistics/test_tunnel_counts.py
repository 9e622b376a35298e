"""The study of counts on fresh tunnel batches, small."""

from __future__ import annotations

import pytest

from planner.read import load_plan
from tests.statistics.tunnel_counts import PLAN, RECOMMENDED, fresh_segments, judged, summary


@pytest.mark.slow
def test_equal_counts_at_the_recommended_ages_are_no_better_for_no_more_money() -> None:
    # 600 fresh batches, common to all rows: the same fits but for one or two specimens, so that the difference of
    # two errors is known to a few thousandths of itself. A fixed seed.
    plan = load_plan(PLAN)
    rows = judged(plan, fresh_segments(600, plan))
    assert list(rows) == [RECOMMENDED, "same ages, equal counts", "any ages, equal counts"]
    (recommended, error), (same_ages, same_ages_error), (any_ages, _error) = rows.values()
    assert len(set(same_ages.schedule.specimens)) == len(set(any_ages.schedule.specimens)) == 1
    costs = [choice.cost for choice in (recommended, same_ages, any_ages)]
    assert None not in costs
    assert max(cost for cost in costs if cost is not None) == recommended.cost
    assert error <= same_ages_error
    found = summary([rows, rows])
    assert found[0].endswith("worse in 0 of 2")
    assert "better in 0, the same in 0, worse in 2 of 2" in found[1]
