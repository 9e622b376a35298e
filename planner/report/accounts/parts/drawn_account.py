"""What an answer from drawn batches must say first, and its errors over the site's temperatures."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Column, Paragraph, Section, Table
from planner.terms.results.recommended.recommendation import Recommendation

TEMPERATURES = "Error against mean concrete temperature (drawn batches)"


def headed(section: Section, advice: Recommendation) -> Section:
    """The first section of any output, with what must be said before anything else as its first line."""
    first = words.clean(advice.evidence.first_line)
    if not first:
        return section
    return Section(first, (Paragraph(section.heading, is_strong=True), *section.blocks), section.id)


def temperature_section(advice: Recommendation) -> Section:
    """A row for each target and temperature; empty where no site range is scored."""
    if not advice.by_temperature:
        return Section(TEMPERATURES, ())
    rows = tuple(
        (
            advice.target_label(row.target_age_h),
            f"{row.temperature_c:.1f}",
            words.share(row.bias, is_signed=True),
            words.share(row.rms),
            f"{words.share(row.low_05, is_signed=True)} to {words.share(row.high_95, is_signed=True)}",
            words.whole_share(row.within_tolerance),
            words.whole_share(row.over_predicted_beyond_tolerance),
        )
        for row in advice.by_temperature
    )
    columns = (
        Column(heading="target"),
        Column(heading="mean, C", is_number=True),
        Column(heading="bias", is_number=True),
        Column(heading="RMS error", is_number=True),
        Column(heading="9 in 10 lie within", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="over", is_number=True),
    )
    note = f"inside: share of batches within {words.share(advice.tolerance)}; over: share over-predicted beyond it."
    if advice.waiting is not None:
        note += (
            " A strength that is waited for is checked when concrete of that temperature typically has it, not at the "
            "age that is named."
        )
    return Section(TEMPERATURES, (Table(columns=columns, rows=rows, note=note),))
