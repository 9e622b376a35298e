"""Cautions on drawn batches, published growth and breaks without a record, at their limits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.evidence.record_words import without_temperature
from planner.population.published_growth import published_law
from planner.population.wording.draw_cautions import unchecked_caution
from planner.population.wording.published_words import published_cautions
from tests.population.invented_breaks import plan


@pytest.mark.parametrize(("share", "codes"), [(0.0199, []), (0.02, ["drawn-too-weak-to-check"])])
def test_checks_too_weak_to_be_broken_are_told_from_two_in_a_hundred(share: float, codes: list[str]) -> None:
    found = unchecked_caution(share, 3.0)
    assert [caution.code for caution in found] == codes
    assert not found or "At 2 % of the checks of drawn batches the concrete has less than 3 MPa" in found[0].text


@pytest.mark.parametrize(
    ("below", "above", "is_told"), [(0.0, 0.0, False), (0.1, 0.0, True), (0.0, 0.1, True), (-1.0, -1.0, False)]
)
def test_a_site_beyond_the_temperatures_of_the_law_is_told(below: float, above: float, is_told: bool) -> None:
    settings = plan(published="EN 1992-1-1 class N", strength_28d_mpa=50.0)
    law = published_law("EN 1992-1-1 class N", settings.target.ages_h)
    assert law.temperature_c is not None
    low, high = law.temperature_c
    asked = replace(settings, site_temperature_c=(low - below, high + above))
    found = {caution.code: caution.text for caution in published_cautions(law, asked)}
    assert ("outside-published-temperatures" in found) == is_told
    assert not is_told or f"leaves the {low:g} to {high:g} C" in found["outside-published-temperatures"]


def test_breaks_without_a_record_are_named_up_to_eight_groups() -> None:
    few, many = (without_temperature(3 * n, [f"B{at} (site-cured)" for at in range(n)]) for n in (8, 9))
    assert few.code == many.code == "breaks-without-temperature"
    assert "and others" not in few.text
    assert "27 breaks" in many.text
    assert "B7 (site-cured) and others" in many.text
