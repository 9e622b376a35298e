"""The sentence that says what a cheaper tied schedule spares."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.terms.results.programme_figures import SpendingFigures
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.wording.reasons import reasons
from tests.report.invented_result import invented_recommendation
from tests.verdict.wording.test_helping import figures


def choice(ages_h: tuple[float, ...], specimens: tuple[int, ...], *, n_visits: int) -> RatedChoice:
    return replace(invented_recommendation().recommended, schedule=Schedule(ages_h, specimens), n_visits=n_visits)


@pytest.mark.parametrize(
    ("n_visits_of_best", "spared"),
    [(1, "spares 3 specimens ("), (2, "spares 3 specimens and 1 visit ("), (3, "spares 3 specimens and 2 visits (")],
)
def test_only_visits_that_fall_away_are_said_to_be_spared(n_visits_of_best: int, spared: str) -> None:
    # one age less on a day on which the laboratory attends anyway spares no visit
    advice = invented_recommendation()
    first, *_ = reasons(
        choice((10.0, 14.0, 18.0), (3, 3, 3), n_visits=1),
        choice((8.0, 10.0, 14.0, 18.0), (3, 3, 3, 3), n_visits=n_visits_of_best),
        n_tied=15,
        n_choices=5152,
        customary=None,
        next_best=(),
        honest=advice.honest,
        limit=None,
    )
    assert spared in first


def told_of(money: SpendingFigures | None, *, n_specimens: int = 9) -> str:
    invented = invented_recommendation()
    each = (n_specimens // 3,) * 3
    first, *_ = reasons(
        choice((10.0, 14.0, 18.0), each, n_visits=1),
        choice((8.0, 10.0, 14.0, 18.0), (3, 3, 3, 3), n_visits=2),
        n_tied=1,
        n_choices=5152,
        customary=None,
        next_best=(),
        honest=invented.honest,
        limit=None,
        money=money,
    )
    return first


def test_the_reason_is_the_one_that_the_rule_had() -> None:
    good = figures(is_enough=True)
    assert "is the cheapest that is good enough on the later pour; it spares 3 specimens and 1 visit (" in told_of(good)
    tied = figures()
    assert "the cheapest that these batches cannot tell apart from the best on the later pour; it" in told_of(tied)
    own = figures(judged_on="own batch")
    assert "cannot tell apart from the best on the own batch" in told_of(own)
    assert "cannot tell apart from the best on the own batch" in told_of(None)


def test_nothing_is_spared_that_is_not() -> None:
    assert "spares 1 visit (" in told_of(None, n_specimens=15)  # three specimens more, one visit less
    assert "specimens and" not in told_of(None, n_specimens=15)
