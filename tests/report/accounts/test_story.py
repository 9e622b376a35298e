"""What a set of records holds, counted by hand beforehand."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from planner.evidence.record_summary import tell_story
from planner.report.accounts.records_account import story_account
from planner.report.screens.terminal import print_sections
from planner.terms.problems import Caution
from planner.terms.records import Break, Curing, CuringRecord, Records
from tests.report.invented_result import HOSTILE_NAMES


def broken(batch: str, age_h: float, *strengths: float, curing: Curing = "standard") -> tuple[Break, ...]:
    return tuple(
        Break(
            batch=batch,
            mix="mix",
            curing=curing,
            age_h=age_h,
            tested_h=age_h,
            strength_mpa=strength,
            geometry="cylinder 100x200 mm",
        )
        for strength in strengths
    )


def warmed(batch: str, curing: Curing, *degrees: float) -> CuringRecord:
    hours = np.arange(len(degrees), dtype=float)
    return CuringRecord(
        batch=batch,
        curing=curing,
        placement="",
        elapsed_h=hours,
        temperature_c=np.array(degrees, dtype=float),
    )


RECORDS = Records(
    breaks=(
        *broken("A", 24.0, 9.0, 11.0),
        *broken("A", 72.0, 20.0),
        *broken("B", 24.0, 10.0, 10.0, 13.0),
        *broken("B", 72.0, 21.0),
        *broken("C", 24.0, 12.0),
        *broken("A", 24.0, 8.0, curing="site"),
    ),
    curing_records=(warmed("A", "standard", 20.0, 20.0, 20.0), warmed("A", "site", 10.0, 20.0, 10.0)),
    voided=tuple(replace(item, void="capping crushed", row=9) for item in broken("B", 24.0, 3.0)),
    cautions=(Caution("wide-range", "Batch B, 24 h: the companions differ."),),
)


def test_counts() -> None:
    story = tell_story(RECORDS, targets=((24.0, None), (72.0, None), (100.0, None)))
    assert (story.n_breaks, story.n_voided, len(story.batches)) == (9, 1, 3)
    assert story.ages_h == (24.0, 72.0)
    assert story.mixes == ("mix",)
    assert story.voided == (("batch B, standard, 24 h, row 9", "capping crushed"),)
    assert story.precision_cv == 0.032


def test_scatter_is_pooled_by_degrees_of_freedom() -> None:
    # CV^2 of A (9, 11): 2/100 with 1 df; of B (10, 10, 13): 3/121 with 2 df
    scatter = tell_story(RECORDS).scatter
    assert len(scatter) == 1
    assert (scatter[0].n_cells, scatter[0].n_specimens) == (2, 5)
    assert scatter[0].cv == pytest.approx(np.sqrt((2 / 100 + 2 * 3 / 121) / 3))


def test_two_placements_are_no_replicates_of_each_other() -> None:
    # cool 9 and 11, warm 18 and 22: CV^2 2/100 in both; as one cell they would scatter by 38 %
    placed = [
        replace(item, placement=placement)
        for placement, strengths in (("cool", (9.0, 11.0)), ("warm", (18.0, 22.0)))
        for item in broken("A", 6.0, *strengths, curing="site")
    ]
    (scatter,) = tell_story(Records(breaks=tuple(placed))).scatter
    assert (scatter.n_cells, scatter.n_specimens) == (2, 4)
    assert scatter.cv == pytest.approx(np.sqrt(2 / 100))


def test_holes_are_ages_that_most_others_have() -> None:
    assert [batch.missing_ages_h for batch in tell_story(RECORDS).batches] == [(), (), (72.0,)]


def test_targets_say_against_what_they_can_be_checked() -> None:
    first, _, never = tell_story(RECORDS, targets=((24.0, None), (72.0, None), (100.0, None))).targets
    assert (first.with_site, first.with_standard, first.without) == (("A",), ("B", "C"), ())
    assert (never.with_site, never.with_standard, never.without) == ((), (), ("A", "B", "C"))


def test_batches_are_counted_with_what_they_are_held_against() -> None:
    def said(records: Records) -> str:
        story = tell_story(records, targets=((24.0, None),), standard_curing_c=20.0)
        sections = story_account(story, title="Told")
        stream = io.StringIO()
        print_sections(sections, Console(file=stream, width=400))
        return stream.getvalue()

    only, more = "against standard-cured specimens only", "against companions cured beside the work"
    in_room = replace(RECORDS, breaks=tuple(item for item in RECORDS.breaks if item.curing == "standard"))
    both = replace(RECORDS, breaks=(*RECORDS.breaks, *broken("C", 24.0, 8.0, 9.0, 12.0)))
    for records, wanted in ((in_room, f" of 3 batches {only}"), (both, f"1 of 3 batches {more}")):
        assert wanted in said(records), said(records)
    assert re.search(rf"{more}, \d more {only}", said(both))


def test_temperatures_are_averaged_over_time() -> None:
    spans = tell_story(RECORDS).batches[0].temperatures
    assert [span.mean_c for span in spans] == [20.0, 15.0]
    assert (spans[1].coolest_c, spans[1].warmest_c, spans[1].last_h) == (10.0, 20.0, 2.0)


def test_constants_are_judged_by_what_they_change() -> None:
    # derived: exp(2000 (1/288.15 - 1/293.15)) - 1 = 12.6 % between 15 and 20 C
    constants = tell_story(RECORDS).constants
    assert constants.widest_c == pytest.approx(5.0)
    assert constants.age_difference == pytest.approx(0.1257, abs=1e-4)
    assert constants.is_telling
    alike = replace(RECORDS, curing_records=RECORDS.curing_records[:1])
    assert not tell_story(alike).constants.is_telling


@pytest.mark.parametrize(
    ("stated_c", "is_telling"),
    [(None, False), (20.0, True), (34.0, False)],
    ids=["not stated", "stated", "stated alike"],
)
def test_stated_curing_beside_a_site_record_tells_constants_apart(stated_c: float | None, is_telling: bool) -> None:
    # derived: exp(2000 (1/293.15 - 1/308.15)) - 1 = 39.4 % between 20 and 35 C
    warm = replace(RECORDS, curing_records=(warmed("A", "site", 35.0, 35.0),))
    constants = tell_story(warm, standard_curing_c=stated_c).constants
    assert constants.is_telling == is_telling
    if is_telling:
        assert constants.widest_c == pytest.approx(15.0)
        assert constants.age_difference == pytest.approx(0.394, abs=1e-3)


@pytest.mark.parametrize(
    ("geometry", "expected"),
    [("cylinder 150x300 mm", 0.024), ("cube 100 mm", 0.032), ("", None), ("cylinder 75x150 mm", None)],
)
def test_precision_belongs_to_the_geometry(geometry: str, expected: float | None) -> None:
    records = Records(breaks=tuple(replace(item, geometry=geometry) for item in RECORDS.breaks))
    assert tell_story(records).precision_cv == expected


def test_the_account_names_holes_voids_flags_and_answers() -> None:
    stream = io.StringIO()
    story = tell_story(RECORDS, targets=((24.0, None), (100.0, None)))
    print_sections(story_account(story, title="Slab"), Console(file=stream, width=100))
    text = " ".join(stream.getvalue().split())
    assert text.startswith("Slab")
    assert "Batch C was not broken at 3 d" in text
    assert "capping crushed" in text
    assert "wide-range" in text
    assert "1 of 3 batches against companions cured beside the work" in text
    assert "100 h: nothing was broken at this age" in text
    assert "only 3 batches" in text


def test_foreign_names_are_inert_in_the_account() -> None:
    breaks = tuple(item for name in HOSTILE_NAMES for item in broken(name, 24.0, 10.0, 11.0))
    stream = io.StringIO()
    print_sections(story_account(tell_story(Records(breaks=breaks))), Console(file=stream, width=80))
    assert "\x1b" not in stream.getvalue()
    assert "\u202e" not in stream.getvalue()
    assert "[red]warm" in stream.getvalue()
