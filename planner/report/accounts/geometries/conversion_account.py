"""Conversions between geometries in a section: line, table of strengths, residuals by age, what they rest on."""

from __future__ import annotations

from collections.abc import Sequence

from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Facts, Section, Table
from planner.report.text.conversion_words import conversion_sentences, error_words, line_words
from planner.terms.labels import age_label
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.terms.results.recommended.recommendation import Recommendation


def conversion_sections(conversions: Sequence[ConversionFigures]) -> tuple[Section, ...]:
    """One section for each conversion."""
    return tuple(Section(f"{one.from_geometry} read as {one.to_geometry}", _blocks(one)) for one in conversions)


def recommended_conversion(advice: Recommendation) -> Section:
    """The conversion that the recommended geometry needs; nothing below the heading where it needs none."""
    answer = advice.geometries
    if answer is None or answer.conversion is None:
        return Section("Conversion", ())
    (section,) = conversion_sections((answer.conversion,))
    return section


def _blocks(conversion: ConversionFigures) -> tuple[Block, ...]:
    facts = [
        ("Conversion", line_words(conversion)),
        ("Rests on", f"{conversion.n_pairs} pairs of means cast together, in {conversion.n_batches} batches"),
        ("Error", error_words(conversion) or "unknown: none of it was broken at a target"),
    ]
    if not conversion.n_pairs:
        facts[1] = ("Rests on", "a factor stated in the plan; no pairs")
    tables = [table for table in (_table(conversion), _age_table(conversion)) if table.rows]
    return (Facts(tuple(facts)), *tables, Bullets(conversion_sentences(conversion)))


def _table(conversion: ConversionFigures) -> Table:
    columns = (
        Column(heading="broken, MPa", is_number=True),
        Column(heading="read, MPa", is_number=True),
        Column(heading="from, MPa", is_number=True),
        Column(heading="to, MPa", is_number=True),
    )
    rows = tuple(
        (f"{line.from_mpa:.1f}", f"{line.to_mpa:.1f}", f"{line.lower_mpa:.1f}", f"{line.upper_mpa:.1f}")
        for line in conversion.table
    )
    return Table(columns=columns, rows=rows, note="from, to: 9 in 10 other batches lie between.")


def _age_table(conversion: ConversionFigures) -> Table:
    columns = (
        Column(heading="age"),
        Column(heading="batches", is_number=True),
        Column(heading="left, %", is_number=True),
        Column(heading="standard error, %", is_number=True),
    )
    rows = tuple(
        (
            age_label(one.age_h),
            str(one.n_batches),
            f"{100 * one.mean:+.1f}",
            words.NONE if one.standard_error is None else f"{100 * one.standard_error:.1f}",
        )
        for one in conversion.by_age
    )
    return Table(
        columns=columns, rows=rows, note="left: converted by the other batches' pairs over measured, less 1; mean of "
        "batches. Above 0 reads too strong.",
    )  # fmt: skip
