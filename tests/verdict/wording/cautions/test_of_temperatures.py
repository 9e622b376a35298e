"""Cautions about temperatures and heat: when each is given, when not, and at its limit."""

from __future__ import annotations

import pytest

from planner.terms.maturity import MaturitySetting
from tests.verdict.wording.cautions.circumstances import (
    Case,
    Changed,
    Figures,
    about,
    codes,
    every,
    given_past_its_limit,
    record,
    says,
    warm_day,
)

SITE_12C = record([12.0] * 5 + [12.1] * 5, curing="site")
CASES: list[Case] = [
    (
        "site-outside-records",
        {"settings__site_temperature_c": (10.9, 12.0), "records__curing_records": (record(warm_day(20.0)), SITE_12C)},
        {"settings__site_temperature_c": (11.1, 12.0), "records__curing_records": (record(warm_day(20.0)), SITE_12C)},
    ),
    (
        "frozen-or-nearly",
        {"records__curing_records": (record([-0.1, *warm_day(20.0)]),)},
        {"records__curing_records": (record([0.0, *warm_day(20.0)]),)},
    ),
    (
        "cold-with-low-datum",
        {
            "recommended__maturity": MaturitySetting("temperature-time", -5.0),
            "records__curing_records": (record([9.9, *warm_day(20.0)]),),
        },
        {
            "recommended__maturity": MaturitySetting("temperature-time", -5.0),
            "records__curing_records": (record([10.0, *warm_day(20.0)]),),
        },
    ),
    (
        "above-40-c",
        {"records__curing_records": (record([40.1, *warm_day(20.0)]),)},
        {"records__curing_records": (record([40.0, *warm_day(20.0)]),)},
    ),
    (
        "above-65-c",
        {"records__curing_records": (record([65.1, *warm_day(20.0)]),)},
        {"records__curing_records": (record([39.0, *warm_day(20.0)]),)},
    ),
    (
        "above-70-c",
        {"records__curing_records": (record([70.1, *warm_day(20.0)]),)},
        {"records__curing_records": (record([39.0, *warm_day(20.0)]),)},
    ),
    (
        "records-heat-treated",
        {"records__curing_records": (record([55.1, *warm_day(20.0)]),)},
        {"records__curing_records": (record([55.0, *warm_day(20.0)]),)},
    ),
    (
        "crossover",
        {
            "cells__target_ages_h": (24.0, 72.0),
            "records__curing_records": (record(warm_day(20.0)), record([28.2] * 4 + [28.1] * 4, curing="site")),
        },
        {
            "cells__target_ages_h": (24.0, 71.0),
            "records__curing_records": (record(warm_day(20.0)), record([28.2] * 4 + [28.1] * 4, curing="site")),
        },
    ),
    (
        "curing-room-off",
        {"records__curing_records": (record(warm_day(22.1)),)},
        {"records__curing_records": (record(warm_day(21.9)),)},
    ),
    (
        "temperature-constant",
        {"records__curing_records": (record([20.0] * 20),)},
        {"records__curing_records": (record([20.0] * 19),)},
    ),
]
FIGURES: list[Figures] = [
    # 23 C entered as 20 C: exp(5000 (1/293.15 - 1/296.15)) = 1.1886 (Q 5000 K from memory, derived)
    (
        "curing-room-off",
        {"records__curing_records": (record(warm_day(23.0)),)},
        ("stated at 20 C", "mean of 23.0 C", "19 % of maturity"),
    ),
    (
        "above-65-c",
        {"records__curing_records": (record([66.0, *warm_day(20.0)]),)},
        ("66.0 C", "EN 13369 limits heat-treated precast products in damp surroundings to 65 C", "70 C of EN 13670"),
    ),
    (
        "above-70-c",
        {"records__curing_records": (record([71.0, *warm_day(20.0)]),)},
        ("71.0 C", "EN 13670 limits concrete cast in place to 70 C", "EN 13369 heat-treated precast"),
    ),
    # 5.1, 7.8, 11.7 at 60 C beside 20 C for Q 4000, 5000, 6000 K (derived); (60 - 0) / 20 = 3.0
    (
        "records-heat-treated",
        {"records__curing_records": (record([60.0] * 9, curing="heat"), record(warm_day(20.0), batch="B2"))},
        ("B1: cured up to 60 C", "counts 5.1, 7.8 and 11.7 h at 20 C", "3.0 h by temperature-time", "7.8 h as recomm"),
    ),
]


@pytest.mark.parametrize(("code", "past", "at"), CASES, ids=[case[0] for case in CASES])
def test_given_past_its_limit_and_not_at_it(code: str, past: Changed, at: Changed) -> None:
    given_past_its_limit(code, past, at)


@pytest.mark.parametrize(("code", "changed", "said"), FIGURES, ids=[case[0] for case in FIGURES])
def test_figures_in_the_words(code: str, changed: Changed, said: tuple[str, ...]) -> None:
    says(code, changed, said)


def test_a_site_range_without_site_records_is_no_question_of_them() -> None:
    assert "site-outside-records" not in codes(every(about(settings__site_temperature_c=(5.0, 35.0))))


def test_heat_takes_later_strength() -> None:
    past = next(past for code, past, _ in CASES if code == "crossover")
    says("crossover", past, ("ran at up to 28 C early on", "Hot early curing lowers later strength", "check late ages"))
