"""The acceptable range of replicates."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy import integrate, optimize
from scipy.stats import norm, studentized_range

from planner.read.breaks.doubts.outlying import (
    RANGE_MEDIANS,
    RANGE_MULTIPLIERS,
    acceptable_range,
    note_outlying,
    usual_cv,
)
from planner.read.parsing.findings import Findings
from planner.terms.plan.precision import stated_precision
from planner.terms.records import Break


@pytest.mark.parametrize("n_replicates", RANGE_MULTIPLIERS)
def test_multipliers_are_points_of_the_studentised_range(n_replicates: int) -> None:
    # ASTM C670 rounds 2.772, 3.314 and 3.633; beyond four specimens two decimals are kept.
    exact = float(studentized_range.ppf(0.95, n_replicates, 1e6))
    assert RANGE_MULTIPLIERS[n_replicates] == pytest.approx(exact, abs=0.035 if n_replicates <= 4 else 0.006)


@pytest.mark.parametrize("n_replicates", RANGE_MEDIANS)
def test_medians_are_those_of_the_range_of_normal_values(n_replicates: int) -> None:
    def below(width: float) -> float:
        value, _ = integrate.quad(
            lambda low: n_replicates * norm.pdf(low) * (norm.cdf(low + width) - norm.cdf(low)) ** (n_replicates - 1),
            -9,
            9,
        )
        return value - 0.5

    assert RANGE_MEDIANS[n_replicates] == pytest.approx(optimize.brentq(below, 0.1, 9.0), abs=0.001)


def test_published_ranges() -> None:
    # ASTM C39 acceptable ranges of two and three, from memory: 6.6 / 7.8 % and 9.0 / 10.6 %.
    large, small = stated_precision("cylinder 150x300 mm"), stated_precision("cylinder 100x200 mm")
    assert large is not None
    assert small is not None
    assert acceptable_range(2, large.within_test_cv) == pytest.approx(0.066, abs=0.0015)
    assert acceptable_range(3, large.within_test_cv) == pytest.approx(0.078, abs=0.0015)
    assert acceptable_range(2, small.within_test_cv) == pytest.approx(0.090, abs=0.0005)
    assert acceptable_range(3, small.within_test_cv) == pytest.approx(0.106, abs=0.0005)


def test_more_replicates_than_tabled_use_the_last() -> None:
    assert acceptable_range(50, 0.03) == acceptable_range(20, 0.03)


def sets_of(geometry: str, spreads: list[float]) -> list[Break]:
    """Pairs about 30 MPa, one batch each, whose range over mean is as given."""
    one = Break(batch="", mix="", curing="standard", age_h=24.0, tested_h=24.0, strength_mpa=30.0, geometry=geometry)
    return [
        replace(one, batch=f"B{at}", strength_mpa=30.0 * (1 + sign * spread / 2), row=2 * at + (sign > 0))
        for at, spread in enumerate(spreads, 1)
        for sign in (-1, 1)
    ]


def cautions_of(breaks: list[Break]) -> list[str]:
    findings = Findings()
    note_outlying(breaks, findings)
    return [caution.text for caution in findings.cautions if caution.code == "outlying-break"]


def test_cylinders_are_held_to_the_statement() -> None:
    assert cautions_of(sets_of("cylinder 100x200 mm", [0.08, 0.0895])) == []
    (text,) = cautions_of(sets_of("cylinder 100x200 mm", [0.08, 0.0897]))
    assert text.startswith("In 1 of 2 sets of replicates the range is beyond the acceptable one (ASTM C670, ")
    assert "B2 standard 1 d (rows 4, 5): 9.0 %, acceptable 9.0 %" in text


def test_sets_that_nothing_can_be_held_against_are_no_part_of_the_count() -> None:
    # 60 MPa lies outside the strengths of the statement, and three such sets are too few for a usual scatter
    strong = [replace(item, batch=f"S{item.batch}", strength_mpa=2 * item.strength_mpa) for item in sets_of("", [0.3])]
    strong = [replace(item, geometry="cylinder 100x200 mm") for item in strong]
    (text,) = cautions_of([*sets_of("cylinder 100x200 mm", [0.08, 0.0897]), *strong])
    assert text.startswith("In 1 of 2 sets of replicates that can be judged, of 3, the range is beyond")


def test_small_cubes_are_held_to_their_own_scatter_and_to_no_statement_on_others() -> None:
    usual = [0.08, 0.12, 0.10, 0.11, 0.09, 0.10]
    assert cautions_of(sets_of("cube 50 mm", usual)) == []
    (text,) = cautions_of(sets_of("cube 50 mm", [*usual, 0.40]))
    assert "the usual scatter of cube 50 mm" in text
    assert "C39" not in text


def test_cubes_are_held_to_the_statement_on_cubes() -> None:
    # EN 12390-3, 3.2 % (memory): two may differ by 2.8 times that, 9.0 %
    assert cautions_of(sets_of("cube 150 mm", [0.0895])) == []
    (text,) = cautions_of(sets_of("cube 150 mm", [0.0897]))
    assert "from the precision of EN 12390-3" in text


def test_a_statement_is_kept_to_its_strengths() -> None:
    # ASTM C39 speaks of 17 to 32 MPa for 100x200 mm (memory): weaker and stronger sets have their own usual scatter
    weak = [replace(item, strength_mpa=item.strength_mpa / 2) for item in sets_of("cylinder 100x200 mm", [0.2] * 30)]
    assert cautions_of(weak) == [], "their usual scatter"
    assert len(cautions_of(sets_of("cylinder 100x200 mm", [0.2] * 30))) == 1


def test_few_cubes_are_not_judged() -> None:
    assert usual_cv([(2, 0.1)] * 5) is None
    assert usual_cv([(2, 0.0954)] * 6) == pytest.approx(0.1)
    assert cautions_of(sets_of("cube 50 mm", [0.1, 0.1, 0.5])) == []
