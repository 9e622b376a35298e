"""The account on a terminal: fits, says what matters first, and foreign text does nothing."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.console import Console

from planner.report.accounts.brief_account import MOST_COMPARED
from planner.report.screens.terminal import can_write_unicode, print_sections
from planner.report.text.blocks import Column, Section, Table
from planner.report.text.words import first_sentence
from planner.terms.labels import percent
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation
from tests.report.printed import print_recommendation, print_score


def shown(
    advice: Recommendation,
    *,
    width: int = 100,
    encoding: str = "utf-8",
    is_coloured: bool = False,
    is_full: bool = False,
) -> str:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="")
    console = Console(file=stream, width=width, force_terminal=is_coloured, highlight=False, emoji=False, markup=False)
    print_recommendation(advice, console, is_full=is_full)
    stream.flush()
    return raw.getvalue().decode(encoding)


@pytest.mark.parametrize("width", [80, 100, 140])
@pytest.mark.parametrize("build", [invented_recommendation, bare_recommendation])
@pytest.mark.parametrize("is_full", [False, True])
def test_no_line_is_wider_than_the_screen(width: int, build: type[Recommendation], is_full: bool) -> None:
    assert all(cell_len(line) <= width for line in shown(build(), width=width, is_full=is_full).splitlines())


def test_it_fits_on_two_screens() -> None:
    assert len(shown(invented_recommendation()).splitlines()) <= 80


def test_no_line_ends_between_a_figure_and_its_percent_sign() -> None:
    for width in (80, 100):
        lines = shown(invented_recommendation(), width=width).splitlines()
        assert not any(line.lstrip().startswith("%") for line in lines)


@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("is_full", [False, True])
def test_no_line_of_a_table_ends_between_a_figure_and_its_unit(width: int, is_full: bool) -> None:
    text = shown(invented_recommendation(), width=width, is_full=is_full)
    assert not re.search(r"\n +(%|h|d|MPa|EUR)( |\n)", text)
    assert not re.search(r"\d +\n +%", text)
    compared = text[text.index("choice  ") :]
    assert all(name in compared for name in ("recommended", "customary"))


def test_a_narrow_table_has_its_units_in_the_headings() -> None:
    columns = (
        Column(heading="choice"),
        *(Column(heading=heading, is_number=True) for heading in ("RMS", "cost", "at")),
    )
    rows = (("recommended", "3.7 % *", "1867 EUR", "6 h"), ("customary", "-", "900 EUR", "1 d"))
    table = Table(columns=columns, rows=rows)
    assert printed(table, width=40).splitlines() == [
        "choice           RMS      cost   at",
        "recommended  3.7 % *  1867 EUR  6 h",
        "customary          -   900 EUR  1 d",
    ]
    assert printed(table, width=31).splitlines() == [
        "               RMS  cost",
        "choice           %   EUR   at",
        "recommended  3.7 *  1867  6 h",
        "customary        -   900  1 d",
    ]


def test_a_schedule_breaks_as_late_as_fits() -> None:
    held = Table(
        columns=(Column(heading="choice"), Column(heading="break at")),
        rows=(("best", "4h\xa06h\xa08h\xa014d, 3\xa0each"),),
    )
    assert printed(held, width=28).splitlines()[1].rstrip() == "best    4h 6h 8h 14d, 3 each"
    assert [line.rstrip() for line in printed(held, width=27).splitlines()[1:]] == [
        "best    4h 6h 8h 14d,",
        "        3 each",
    ]


def printed(table: Table, *, width: int) -> str:
    stream = io.StringIO()
    print_sections((Section("Table", (table,)),), Console(file=stream, width=width))
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()[1:])


def test_a_row_of_the_comparison_is_one_line() -> None:
    text = shown(invented_recommendation())
    assert re.search(r"^recommended +6h 12h 1d 28d, 3\+3\+3\+2 +11 +3\.1 % .*1005$", text, re.MULTILINE)
    assert re.search(r"^compared +1d 3d 28d, 3 each +9 +9\.0 %", text, re.MULTILINE)


def test_many_choices_leave_the_comparison_short() -> None:
    advice = invented_recommendation()
    compared = tuple(
        replace(advice.compared[0], schedule=Schedule((24.0, age_h), (3, 3))) for age_h in range(48, 400, 24)
    )
    text = shown(replace(advice, compared=compared))
    assert text.count("\ncompared ") == MOST_COMPARED - 4
    assert "in full" in text


def test_many_candidate_ages_are_told_in_parts() -> None:
    advice = invented_recommendation()
    ages = tuple(replace(advice.ages[0], age_h=float(age)) for age in range(24, 24 * 26, 24))
    assert shown(replace(advice, ages=ages)).count("in the best schedule, %") == 3


@pytest.mark.parametrize(
    ("text", "first"),
    [
        (
            "Only 6 batches, so that every one of the bounds is wide. Add some.",
            "Only 6 batches, so that every one of the bounds is wide.",
        ),
        ("It ran hot. Later strength is lower. Check it.", "It ran hot. Later strength is lower."),
        (
            "The error is 3.2 % (RMS, at most 8.5 %), e.g. at 6 h, and no more than that.",
            "The error is 3.2 % (RMS, at most 8.5 %), e.g. at 6 h, and no more than that.",
        ),
        ("", ""),
    ],
)
def test_the_first_sentence_stands_for_a_caution(text: str, first: str) -> None:
    assert first_sentence(text) == first


def test_what_to_do_and_how_far_off_come_first() -> None:
    advice = invented_recommendation()
    first = " ".join(" ".join(shown(advice).splitlines()[:14]).split())
    assert "6 h x3, 12 h x3, 1 d x3, 28 d x2" in first
    later, own = advice.honest.next_batch, advice.honest.own_batch
    assert later is not None
    assert own is not None
    assert f"Later pour read {percent(later.rms)} off (RMS, at most {percent(later.rms_upper_95)} at 95 %)" in first
    assert f"{percent(later.within_tolerance, digits=0)} within 10.0 %, 90 % wanted: NOT GOOD ENOUGH" in first
    assert f"Own batch read {percent(own.nested_rms)} off" in first
    assert "equivalent age, Q 5000 K at 20 C" in first


def test_every_caution_stands_there_with_its_code() -> None:
    advice = invented_recommendation()
    text, full = (" ".join(shown(advice, is_full=is_full).split()) for is_full in (False, True))
    for place, caution in enumerate(advice.cautions):
        assert caution.code not in text
        assert (first_sentence(caution.text) in text) == (place < advice.n_leading_cautions)
        assert caution.code in full
        assert caution.text in full
    for standing in advice.standing_cautions:
        assert standing in text


def test_apparent_errors_are_named_as_such() -> None:
    assert "not corrected for the search" in shown(invented_recommendation())
    assert "these records (apparent)" in shown(invented_recommendation(), is_full=True)
    assert "these records (apparent)" in shown(bare_recommendation())


def test_a_pipe_gets_no_colour() -> None:
    assert "\x1b" not in shown(invented_recommendation())
    assert "\x1b[1m" in shown(invented_recommendation(), is_coloured=True)


@pytest.mark.parametrize("width", [80, 100])
@pytest.mark.parametrize("title", HOSTILE_NAMES)
def test_foreign_text_is_inert(width: int, title: str) -> None:
    text = shown(invented_recommendation(batches=HOSTILE_NAMES, title=title), width=width)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "\r" not in text
    assert all(cell_len(line) <= width for line in text.splitlines())


def test_square_brackets_stay_square_brackets() -> None:
    assert "[red]warm[/red] [/] [link=file:///etc]" in shown(invented_recommendation(title=HOSTILE_NAMES[1]))


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "latin-1"])
def test_a_stream_that_cannot_gets_ascii(encoding: str) -> None:
    text = shown(invented_recommendation(batches=HOSTILE_NAMES, title=HOSTILE_NAMES[4]), encoding=encoding)
    assert text.isascii()
    assert re.search(r"recommended +-+3-+3-+3-+2", text)


def test_encodings_are_judged_by_what_they_carry() -> None:
    assert can_write_unicode("utf-8")
    assert not can_write_unicode("latin-1")
    assert not can_write_unicode("no such encoding")


def test_a_scored_schedule_is_no_approval() -> None:
    advice = invented_recommendation()
    stream = io.StringIO()
    print_score(advice.compared[0], advice, Console(file=stream, width=100))
    text = stream.getvalue()
    assert "1 d x3, 3 d x3, 28 d x3" in text
    assert "approves nothing" in text
    assert "few-batches" in text
