"""Nothing in the program goes unused, but for names that others than the program call."""

from __future__ import annotations

from pathlib import Path

from vulture import Vulture

PACKAGE = Path(__file__).parents[1] / "planner"

CALLED_BY_OTHERS = {
    "__getattr__": "Python, for names that load on demand",
    "__dir__": "Python, for names that load on demand",
    "trace": "Python, on leaving a `with`",
    "_repr_html_": "notebooks",
    "model_config": "pydantic",
    "Temperature": "the schema of the plan",
    "likely": "the template of the curve sheet",
    "scatter_factor": "studies of drawn batches",
}
# Facts that no output shows; tests hold the program by them.
HELD_BY_TESTS = {
    "growth_rate": "the derivative of a curve in maturity",
    "least_variance": "the least variance in one batch, which the mean over batches is held against",
    "t_limit": "departures beyond it make a stranger",
    "mean_to_false_alarm": "checks until a false alarm",
    "most_inside": "the programme of the largest share",
    "is_exact": "whether every pattern of signs was counted",
    "visit_cost": "attendances of one casting time",
    "n_equal": "casting times that do as well",
    "n_castings": "casting times looked at",
}
# Fields of results and rows are written into JSON and tables by their names.
WRITTEN_BY_NAME = ("planner/terms/results/", "planner/sweeping/sweep_rows.py")


def unused() -> dict[str, str]:
    """Names that nothing in the program uses, with their place; what is set on objects of libraries is left out."""
    search = Vulture()
    search.scavenge([PACKAGE])
    return {
        item.name: f"{item.filename}:{item.first_lineno} {item.name}"
        for item in search.get_unused_code(min_confidence=60)
        if item.typ != "attribute" and not any(room in str(item.filename) for room in WRITTEN_BY_NAME)
    }


def test_nothing_goes_unused() -> None:
    found, known = unused(), {*CALLED_BY_OTHERS, *HELD_BY_TESTS}
    assert [place for name, place in found.items() if name not in known] == []
    assert known - found.keys() == set(), "what is used by now needs no place in the lists"
