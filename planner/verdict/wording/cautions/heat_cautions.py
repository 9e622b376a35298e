"""Cautions about concrete that ran hot in the records: whose limit it passes, and what the clock is worth there."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.maturity.break_maturity import rate
from planner.terms.labels import listed
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.hot_concrete import HEATED_C, IN_PLACE_LIMIT_C, PRECAST_LIMIT_C
from planner.terms.problems import Caution
from planner.terms.records import CuringRecord
from planner.verdict.wording.cautions.circumstances import Circumstances

USUAL_BASIS_C = 40.0  # the usual maturity constants rest on about 0 to 40 C (from memory)
USUAL_Q_K = (4000.0, 5000.0, 6000.0)
USUAL_DATUM_C = 0.0
MOST_NAMED = 4


def heat_cautions(about: Circumstances) -> Iterator[Caution]:
    """The gravest limit that a reading passes, then what heat treatment asks of the maturity function."""
    records = about.records.curing_records
    if not records:
        return
    hottest = max(float(record.temperature_c.max()) for record in records)
    reading = f"The hottest reading is {hottest:.1f} C"
    if hottest > IN_PLACE_LIMIT_C:
        yield Caution(
            "above-70-c",
            f"{reading}: delayed ettringite formation is a danger. EN 13670 limits concrete cast in place to "
            f"{IN_PLACE_LIMIT_C:g} C, EN 13369 heat-treated precast products in damp surroundings to "
            f"{PRECAST_LIMIT_C:g} C (both from memory); project limits decide.",
        )
    elif hottest > PRECAST_LIMIT_C:
        yield Caution(
            "above-65-c",
            f"{reading}: delayed ettringite formation may be a danger. EN 13369 limits heat-treated precast products "
            f"in damp surroundings to {PRECAST_LIMIT_C:g} C; the {IN_PLACE_LIMIT_C:g} C of EN 13670 for concrete cast "
            "in place are kept (both from memory); project limits decide.",
        )
    heated = [item for item in records if item.curing == "heat" or float(item.temperature_c.max()) > HEATED_C]
    if heated:
        yield _heated(heated, about.recommended.maturity)
    elif hottest > USUAL_BASIS_C:
        yield Caution(
            "above-40-c",
            f"{reading}, above {USUAL_BASIS_C:g} C: the usual maturity constants rest on about 0 to 40 C (from "
            "memory).",
        )


def _heated(heated: list[CuringRecord], recommended: MaturitySetting) -> Caution:
    """What an hour at the hottest counts by each function: there the choice of constants is the answer."""
    batches = list(dict.fromkeys(record.batch for record in heated))
    named = listed(batches, most=MOST_NAMED)
    hottest = max(float(record.temperature_c.max()) for record in heated)
    reference_c = recommended.reference_c

    def counts(setting: MaturitySetting) -> float:
        return float(rate(np.array(hottest), setting))

    by_age = [counts(MaturitySetting("equivalent age", q, reference_c)) for q in USUAL_Q_K]
    by_datum = counts(MaturitySetting("temperature-time", USUAL_DATUM_C, reference_c))
    text = (
        f"{named}: cured up to {hottest:.0f} C, a heat treatment; the usual maturity constants rest on about 0 to 40 C "
        f"(from memory). An hour at {hottest:.0f} C counts {by_age[0]:.1f}, {by_age[1]:.1f} and {by_age[2]:.1f} h at "
        f"{reference_c:g} C by equivalent age with Q of {', '.join(f'{q:g}' for q in USUAL_Q_K)} K, "
        f"{by_datum:.1f} h by temperature-time factor with a datum of {USUAL_DATUM_C:g} C (derived)"
    )
    if recommended.method != "age":
        text += f"; {counts(recommended):.1f} h as recommended here"
    return Caution(
        "records-heat-treated",
        f"{text}. Under heat the constant is the answer: trust companions of the same treatment, and no reading beyond "
        "the warmest of them.",
    )
