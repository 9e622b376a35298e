"""Which specimen to cast, in a section: the best programme of every geometry side by side."""

from __future__ import annotations

from planner.report.accounts.parts.comparison import short_schedule
from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.report.text.conversion_words import (
    NO_CONVERSION,
    conversion_sentences,
    error_words,
    line_words,
    range_words,
)
from planner.report.text.plain_blocks import NO_BREAK
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.terms.results.geometry.geometry_options import GeometryAnswer, GeometryOption, GeometryReason
from planner.terms.results.recommended.recommendation import Recommendation

HEADING = "Which specimen to cast (the best programme of each)"
WHY = {
    GeometryReason.ONLY_ONE: "the only one that could be judged",
    GeometryReason.CHEAPEST_ENOUGH: "the cheapest that is good enough",
    GeometryReason.CHEAPEST_TIED: "none is good enough, and it is the cheapest of those as good as the best",
}


def geometry_section(advice: Recommendation, *, is_brief: bool = False) -> Section:
    """Money, error and work of every geometry; nothing below the heading where the plan lists none."""
    answer = advice.geometries
    if answer is None:
        return Section(HEADING, ())
    tables = (
        (work_table(answer, advice.currency),)
        if is_brief
        else (work_table(answer, advice.currency), _error_table(answer))
    )
    return Section(HEADING, (*tables, Bullets(_sentences(answer))))


def specimen_facts(advice: Recommendation, *, is_brief: bool = False) -> list[tuple[str, str]]:
    """The geometry to cast and what its strength is read as; none where the plan lists none."""
    answer = advice.geometries
    if answer is None:
        return []
    taken, conversion = answer.recommended, answer.conversion
    text = f"{taken.geometry}, {WHY[answer.because]}"
    if conversion is not None and taken.error is not None:
        line = "" if is_brief else f": {line_words(conversion)}"
        off = f"conversion {words.share(taken.error.conversion_rms)} off, in the errors above"
        text += f"; read as {answer.target_geometry}{line} ({off})"
    return [("Specimen", words.clean(text))]


def casting_lines(advice: Recommendation) -> list[tuple[str, str]]:
    """For the workbook: which geometry to cast, its moulds, how strengths are entered and read."""
    answer = advice.geometries
    if answer is None:
        return []
    taken, conversion = answer.recommended, answer.conversion
    made = f"{taken.n_moulds} moulds" + ("" if taken.litres is None else f", {taken.litres:.0f} L of concrete")
    lines = [("Cast", f"{taken.geometry} alone, {WHY[answer.because]}: {made} for all trial batches")]
    if conversion is not None:
        lines += [
            ("Read as", f"{answer.target_geometry}: {line_words(conversion)}; {error_words(conversion)} off"),
            (
                "Enter",
                f"loads and strengths of the {taken.geometry} as broken, nothing multiplied: the program converts them",
            ),
            ("Holds", " ".join((_sentence(conversion), NO_CONVERSION))),
        ]
    lines += [("Not cast", text) for text in map(_not_cast, answer.options) if text]
    return [(term, words.clean(text)) for term, text in lines]


def _sentence(conversion: ConversionFigures) -> str:
    if conversion.ratio_se is None:
        return conversion_sentences(conversion)[0]
    return f"{range_words(conversion)} The engineer agrees before it serves the specification."


def _not_cast(one: GeometryOption) -> str:
    if one.is_recommended:
        return ""
    if one.refused:
        return f"{one.geometry}: {one.refused}"
    assert one.error is not None
    money = "" if one.cost is None else f", {words.money(one.cost, '')} in all"
    return f"{one.geometry}: {words.share(one.error.total_rms)} off{money}"


def work_table(answer: GeometryAnswer, currency: str) -> Table:
    """A row for each geometry that was searched, the recommended one first: error, money, work."""
    money = words.clean(currency, limit=8)
    columns = (
        Column(heading="specimen"),
        Column(heading="broken", is_number=True),
        Column(heading="RMS, %", is_number=True),
        Column(heading="inside", is_number=True),
        *((Column(heading=money, is_number=True), Column(heading="ends", is_number=True)) if money else ()),
        Column(heading="min", is_number=True),
        Column(heading="visits", is_number=True),
        Column(heading="moulds", is_number=True),
        Column(heading="concrete, L", is_number=True),
    )
    note = f"RMS: off strength of {answer.target_geometry}, all errors in."
    if money:
        note += " ends: part of the money that prepares them."
    note += " min: minutes at the machine."
    return Table(columns=columns, rows=tuple(_work_row(one, money) for one in _searched(answer)), n_marked=1, note=note)


def _searched(answer: GeometryAnswer) -> list[GeometryOption]:
    return sorted((one for one in answer.options if not one.refused), key=lambda one: not one.is_recommended)


def _work_row(one: GeometryOption, money: str) -> tuple[str, ...]:
    assert one.programme is not None
    assert one.error is not None
    priced = (words.money(one.cost, ""), words.money(one.preparation_cost, "")) if money else ()
    return (
        words.clean(one.geometry, limit=30).replace(" ", NO_BREAK),
        str(one.programme.n_specimens),
        _percent(one.error.total_rms),
        words.whole_share(one.within_tolerance),
        *priced,
        f"{one.machine_minutes:.0f}",
        str(one.n_visits),
        str(one.n_moulds),
        words.NONE if one.litres is None else f"{one.litres:.0f}",
    )


def _error_table(answer: GeometryAnswer) -> Table:
    """The same geometries: schedule, what the error is made of, what it rests on."""
    columns = (
        Column(heading="specimen"),
        Column(heading="break at, specimens"),
        Column(heading="curve, %", is_number=True),
        Column(heading="conversion, %", is_number=True),
        Column(heading="scatter, %", is_number=True),
        Column(heading="batches", is_number=True),
        Column(heading="measured", is_number=True),
    )
    rows = []
    for one in _searched(answer):
        assert one.programme is not None
        assert one.error is not None
        number = one.programme.n_trial_batches
        times = "" if number == 1 else f"{number} times "
        rows.append(
            (
                words.clean(one.geometry, limit=30).replace(" ", NO_BREAK),
                f"{times}{short_schedule(one.programme.schedule)}",
                _percent(one.error.curve_rms),
                _percent(one.error.conversion_rms),
                _percent(one.within_test_cv),
                str(one.n_units),
                str(one.n_measured),
            )
        )
    return Table(
        columns=columns,
        rows=tuple(rows),
        n_marked=1,
        note="curve, conversion: parts of RMS. scatter: of specimens broken together, each geometry by itself. "
        "measured: batches with a truth in the specification's geometry, the others' was converted.",
    )


def _percent(value: float | None) -> str:
    return words.NONE if value is None else f"{100 * value:.1f}"


def _sentences(answer: GeometryAnswer) -> tuple[str, ...]:
    taken = answer.recommended
    said = [f"{taken.geometry}: {WHY[answer.because]}. The rest of this answer is about it."]
    conversion = answer.conversion
    if conversion is not None:
        said.append(
            f"Its strengths are read as those of the {answer.target_geometry}: {line_words(conversion)}. Strengths "
            "on this answer are converted, but for the loads of the testing room."
        )
    parts = _parts(taken)
    if parts:
        said.append(parts)
    said += [f"{one.geometry} is not compared: {one.refused}." for one in answer.options if one.refused]
    return tuple(words.clean(text) for text in said)


def _parts(taken: GeometryOption) -> str:
    """Total variance as the sum of its parts."""
    error = taken.error
    if error is None or error.twice_covariance is None or error.conversion_rms == 0.0:
        return ""
    total, curve, conversion = (1e4 * rms**2 for rms in (error.total_rms, error.curve_rms or 0.0, error.conversion_rms))
    both = 1e4 * error.twice_covariance
    text = (
        f"In squares of percent the total is {total:.1f}: curve {curve:.1f}, conversion {conversion:.1f}, twice their "
        f"covariance {both:+.1f}"
    )
    if error.not_credited > 0.0 and error.shown_covariance is not None:
        return (
            f"{text}. The {taken.n_measured} batches with a truth in the target's geometry show "
            f"{1e4 * error.shown_covariance:+.1f} for the last; so few cannot tell that from chance, so nothing below "
            "0 is credited and the total stays above the curve's own error."
        )
    return f"{text} (over {taken.n_measured} batches with a truth in the target's geometry, so largely chance)."
