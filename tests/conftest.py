"""What holds for every test."""

from __future__ import annotations

import gc
from collections.abc import Generator, Iterator

import pytest
from hypothesis import settings

# The same examples in every run, so that a test that passed does not fail by chance; no limit on a busy machine's time.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")


# Files without simulations of which one test, or what all share, takes more than four seconds.
LONG = {
    "test_scenario_outputs",
    "test_strengths_alone",
    "test_drawn_claims",
    "test_real_engine",
    "test_first_compile",
    "test_waiting_read_back",
    "test_commands",
    "test_whole_run",
    "test_mutations",
    "test_safe_reading_words",
    "test_shares",
    "test_bid_screen",
    "test_beyond_site_records",
    "test_hostile",
    "test_any_plan_values",
    "test_castings_asked",
    "test_alarm_chances",
    "test_refusal_chances",
    "test_compiled",
    "test_prior_curves",
    "test_headline_figures",
    "test_if_then",
    "test_minimum",
    "test_price_and_minimum",
    "test_early_breaks",
    "test_figures_agree",
    "test_geometry_errors",
    "test_geometries",
    "test_readme_excerpt",
}


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Look for no garbage among what is imported, since modules stay to the end; later only now and then."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(20_000, 20, 20)
        gc.enable()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Files with slow tests first, so that none is left for the end; what a file shares stays together.

    Up to the first failure (-x) they run in the order asked for.
    """
    if config.getoption("maxfail"):
        return
    slow = {item.path for item in items if item.get_closest_marker("slow") or item.path.stem in LONG}
    items.sort(key=lambda item: item.path not in slow)


@pytest.fixture(scope="module")
def without_what_comes_after_casting() -> Iterator[None]:
    """Leave the decisions after the first breaks and the chances of alarms out of every answer, for one file.

    They take as long as the rest of a small search, and only their own tests look at them.
    """
    from tests.without_studies import without_what_comes_after_casting as left_out  # loads compiled loops

    with left_out():
        yield


@pytest.fixture
def without_studies() -> Iterator[None]:
    """Leave the studies that follow the choice out of every answer, for one test."""
    from tests.without_studies import without_studies as left_out  # loads compiled loops

    with left_out():
        yield


@pytest.fixture
def learnt_once() -> Iterator[None]:
    """What is learnt from the same breaks is learnt once, for tests that are about something else."""
    from tests.learnt_once import populations_learnt_once  # loads compiled loops: not for files that need none

    with populations_learnt_once():
        yield


@pytest.fixture(scope="module")
def choosing_alone(without_what_comes_after_casting: None) -> Iterator[None]:  # noqa: ARG001
    """Leave out besides what stands beside the choice and its judging: nothing of it goes back into either.

    Early breaks, constants, money, slips, waiting hours, the table of schedules and the ages' roles: more than half of
    the time of a small plan, for tests of many programmes that look at what is chosen and at its honest figures alone.
    """
    from planner.verdict.answers.recommendation import advice
    from tests.without_studies import without_studies as left_out

    with pytest.MonkeyPatch.context() as patch, left_out():
        for name in ("spending", "slip_of", "waiting", "choice_table"):
            patch.setattr(advice, name, lambda *_, **__: None)
        for name in ("age_roles_of", "later_points", "next_best_of", "tied_rows_of"):
            patch.setattr(advice, name, lambda *_, **__: ())
        yield


@pytest.fixture(autouse=True)
def no_width_from_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever starts the tests may state a width of the screen; the program is asked without one."""
    monkeypatch.delenv("COLUMNS", raising=False)
