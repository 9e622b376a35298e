"""The demo on fresh batches, small; the whole study is ``python -m tests.statistics.fresh_batches``."""

from __future__ import annotations

import pytest

from tests.statistics.broken import all_fits
from tests.statistics.coverage import coarse_plan
from tests.statistics.fresh_batches import allowed_schedules, best_in_hindsight, judge_plan, smooth_customary
from tests.statistics.runway import fresh_broken, settings_of

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("without_what_comes_after_casting")]


def test_recommended_stands_between_hindsight_and_custom() -> None:
    plan = coarse_plan()
    settings = settings_of(plan)
    judge = fresh_broken(600, 909, settings)
    schedules = [s for s in allowed_schedules(plan, [float(age) for age in judge.ages_h]) if s.n_ages <= 5]
    hindsight = best_in_hindsight(fresh_broken(40, 808, settings), judge, schedules, all_fits(settings))
    judged = judge_plan("demo", plan, judge, n_draws=20)
    floor, recommended = judge.rms_of(hindsight), judged.true_rms["recommended"]
    # 2,000 fresh batches: best in hindsight 3.0 %, recommended 4.3 %, customary 7.1 %, log-spaced 6.1 %
    assert 0.025 < floor < 0.036
    assert recommended < 1.6 * floor
    assert recommended < judged.true_rms["customary"]
    assert recommended < judged.true_rms["log-spaced"]
    assert judged.true_next_rms > 2.0 * recommended


def test_smooth_curves_through_customary_ages_miss_the_first_day() -> None:
    judge = fresh_broken(200, 909, settings_of(coarse_plan()))
    rows = smooth_customary(judge)
    assert len(rows) == 4
    # measured 15 to 22 %: several times the best choice, not 100 %
    assert all(0.10 < rms < 0.35 for _choice, rms, _bias in rows)
