"""What is not credited is put back round after round; what cannot be tried says why."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Given
from typing import Any

import pytest

from planner.conversion.stated_conversions import conversion_for
from planner.geometry_choice import tried_geometry
from planner.geometry_choice.tried_geometry import MOST_ROUNDS, Tried, try_geometry
from planner.steps.searching import Work
from planner.terms.problems import InputError, NoScheduleError, Problem
from planner.terms.records import Records
from planner.terms.results.geometry.geometry_options import GeometryFigures
from tests.conversion.invented_pairs import CUBE, CYLINDER
from tests.geometry_choice.two_geometries import CUBES, CYLINDERS, plan

WORK = Work.of(5, 1, 1, None)


def rounds(monkeypatch: pytest.MonkeyPatch, missing: list[float]) -> tuple[list[float], Tried]:
    """What was put back in each round where these variances were still missing after it, and what was taken."""
    given: list[float] = []

    def once(_plan: Any, kind: Any, conversion: Any, _work: Any, *, not_credited: float) -> tuple[Tried, float]:
        given.append(not_credited)
        figures = GeometryFigures(geometry=f"round {len(given)}", refused="")
        return Tried(kind, None, conversion, figures), missing[len(given) - 1]

    monkeypatch.setattr(tried_geometry, "_once", once)
    tried = try_geometry(plan(), CUBES, WORK)
    return given, tried


def test_what_is_missing_is_added_until_nothing_is(monkeypatch: pytest.MonkeyPatch) -> None:
    given, tried = rounds(monkeypatch, [0.004, 0.001, 0.0])
    assert given == pytest.approx([0.0, 0.004, 0.005])
    assert tried.option.geometry == "round 3"
    assert tried.conversion is not None


def test_the_first_round_is_the_last_where_nothing_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    given, tried = rounds(monkeypatch, [0.0])
    assert (given, tried.option.geometry) == ([0.0], "round 1")


def test_it_ends_after_so_many_rounds(monkeypatch: pytest.MonkeyPatch) -> None:
    given, tried = rounds(monkeypatch, [0.001] * 9)
    assert len(given) == MOST_ROUNDS == 4
    assert given[-1] == pytest.approx(0.003)
    assert tried.option.geometry == "round 4"


def test_without_pairs_or_factor_it_is_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = plan()
    cubes = tuple(item for item in asked.records.breaks if item.geometry == CUBE)
    lonely = replace(asked, records=Records(breaks=cubes))
    refused = try_geometry(lonely, CUBES, WORK)
    assert refused.plan is None
    assert f"fewer than three batches hold pairs with {CYLINDER}" in refused.option.refused
    without = try_geometry(lonely, CYLINDERS, WORK)  # the target's own geometry needs no pairs, but breaks
    assert without.option.refused == "the records hold no break of it"
    monkeypatch.setattr(tried_geometry, "_once", lambda *_, **__: (refused, 0.0))
    assert try_geometry(lonely, replace(CUBES, factor=0.8, factor_cv=0.04), WORK) is refused


@pytest.mark.parametrize(
    "error", [InputError([Problem(file="plan.toml", text="No curve is left.")]), NoScheduleError("No curve is left.")]
)
def test_what_stops_the_search_is_the_reason(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    def fail(*_given: Any, **_options: Any) -> Any:
        raise error

    monkeypatch.setattr(tried_geometry, "_once", fail)
    tried = try_geometry(plan(), CUBES, WORK)
    assert tried.option.refused == "No curve is left"
    assert tried.option.geometry == CUBE
    assert tried.conversion is not None


def once(monkeypatch: pytest.MonkeyPatch, *, covariance: float | None, share: float, is_judged: bool = True) -> Any:
    """One search whose total error is 10 %, of truths of which this share is measured; what it lacks afterwards."""
    programmes = Given(wanted=Given(judged_on="later pour")) if is_judged else None
    search = Given(programmes=programmes, chosen=Given(taken=3), cells="cells")
    asked = plan()
    conversion = conversion_for(asked.records, asked.settings, CUBES)
    error = Given(total_rms=0.10, twice_covariance=covariance)
    given: dict[str, Any] = {
        "basis_of": lambda alone: alone,
        "search_of": lambda alone, basis, work: search if (basis, work) == (alone, WORK) else None,
        "error_parts": lambda *of, not_credited: (
            error if of == (asked, search, CUBES, conversion) and not_credited == 0.003 else None
        ),
        "programme_of": lambda *of: "programme" if of == (search, programmes, 3) else None,
        "priced_option": lambda *of: (
            GeometryFigures(geometry="priced", refused="") if of == (search, CUBES, "programme", error) else None
        ),
        "measured_share": lambda cells, not_credited: share if (cells, not_credited) == ("cells", 0.003) else None,
    }
    for name, stand_in in given.items():
        monkeypatch.setattr(tried_geometry, name, stand_in)
    tried, missing = tried_geometry._once(asked, CUBES, conversion, WORK, not_credited=0.003)
    if is_judged:
        assert (tried.kind, tried.conversion, tried.option.geometry) == (CUBES, conversion, "priced")
        assert tried.judged_on == "later pour"
        assert tried.plan is not None
        assert tried.plan.settings.prior.geometry == CUBE
        return missing
    assert tried.plan is None
    return tried.option.refused, missing


@pytest.mark.parametrize(
    ("covariance", "share", "missing"),
    [
        (-0.001, 0.25, 0.004),  # put on the measured quarter, four times as much
        (-0.001, 1.0, 0.001),
        (0.001, 0.25, 0.0),  # errors that add up are told as they are
        (None, 0.25, 0.0),
        (-0.001, 0.0, 0.0),  # nothing is measured that it could be put on
        (-0.000019, 1.0, 0.0),  # 0.2 % of the total variance of .01 is next to nothing
        (-0.000021, 1.0, 0.000021),
    ],
)
def test_what_a_search_lacks_is_what_its_covariance_takes_off_the_measured_truths(
    monkeypatch: pytest.MonkeyPatch, covariance: float | None, share: float, missing: float
) -> None:
    assert once(monkeypatch, covariance=covariance, share=share) == pytest.approx(missing)


def test_a_search_that_can_judge_no_programme_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    said, missing = once(monkeypatch, covariance=None, share=1.0, is_judged=False)
    assert (said, missing) == ("its breaks cannot judge every choice that is offered", 0.0)
