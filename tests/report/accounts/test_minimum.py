"""The specification writer's answer: the least first, in a dozen lines, and the same figures in the document."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import pytest
from rich.console import Console

from planner.report.accounts.minimum_account import brief_minimum_account, minimum_account
from planner.report.documents.values.minimum_document import minimum_document
from planner.report.documents.values.recommendation_document import write_json
from planner.report.screens.terminal import print_sections
from planner.terms.results.minimum.minimum_figures import AtLeast, MinimumAnswer
from planner.terms.schedule import Schedule
from tests.report.invented_answers import invented_minimum, invented_programme


def shown(answer: MinimumAnswer, *, width: int = 120, is_full: bool = True) -> str:
    stream = io.StringIO()
    account = minimum_account(answer) if is_full else brief_minimum_account(answer)
    print_sections(account, Console(file=stream, width=width))
    return stream.getvalue()


@pytest.mark.parametrize("is_full", [True, False])
def test_the_answer_stands_in_the_first_lines(is_full: bool) -> None:
    lines = shown(invented_minimum(), width=400, is_full=is_full).splitlines()
    head = "\n".join(lines[:10])
    for word in ("at least 7 specimens at 3 ages (6 h x2, 1 d x3, 28 d x2)", "5.8 % RMS, 93 % inside", "900 EUR"):
        assert word in head
    assert "at least 2 ages" in head
    assert "must be there: 6 h" in head
    assert "14.0 % RMS, 61 % inside" in next(line for line in lines if line.startswith("Customary"))


def test_the_first_screen_is_short_and_the_rest_is_named() -> None:
    text = shown(invented_minimum(), width=100, is_full=False)
    assert len(text.splitlines()) < 40
    assert "--full" in text
    assert "The contractor shall" not in text


def test_every_least_has_a_short_name_that_leaves_its_words_their_room() -> None:
    answer = invented_minimum()
    late = replace(answer.together.leasts[2], programme=invented_programme(Schedule((24.0, 72.0), (3, 3)), 0.06))
    told = replace(answer, together=replace(answer.together, leasts=(*answer.together.leasts[:2], late)))
    lines = shown(told, width=400, is_full=False).splitlines()
    assert re.search(r"^Latest start +first break by 1 d: 6 specimens at 2 ages .*; extrapolates$", lines[4].rstrip())
    assert re.search(r"^Fewest ages +at least 2 ages: 8 specimens at 2 ages ", lines[3].rstrip())
    assert max(line.index(word) for line in lines if (word := "first break by") in line) <= 16


def test_where_nothing_keeps_the_target_it_says_so_and_how_near_one_comes() -> None:
    head = "\n".join(shown(invented_minimum(is_kept=False), width=400).splitlines()[:8])
    assert "NONE of 4095 allowed programmes keeps it" in head
    assert "Own batch only" in head
    assert "4.1 % RMS, 96 % inside" in head
    assert "5.8 % RMS, 61 % inside" in head


def test_ages_constraints_and_rules_are_told() -> None:
    text = shown(invented_minimum(), width=200)
    row = next(line for line in text.splitlines() if line.startswith("no break before 8 h"))
    assert row.split()[5:] == ["6.7", "%", "+1.2", "%", "10", "+3", "+120", "EUR"]
    assert "cannot be kept" in next(line for line in text.splitlines() if line.startswith("nothing after 1 d"))
    assert "none seen" in next(line for line in text.splitlines() if line.startswith("no break at a weekend"))
    flat = " ".join(text.split())
    assert "All 700 schedules that keep the target have the first break no later than 1.1 times the earliest" in flat
    assert "1500 of 4095 do" in flat
    assert "read closer on 5 of 6 batches left out" in flat
    ages = {line.split("  ")[0].strip(): line for line in text.splitlines() if "must +" in line or "no help" in line}
    assert "must +7.0 %" in ages["6 h"]
    assert "no help -1.0 %" in ages["28 d"]


def test_the_document_says_what_the_screen_says() -> None:
    answer = invented_minimum()
    document = json.loads(write_json(minimum_document(answer)))
    assert document["schema"] == "test-age-planner/minimum/1"
    assert document["together"]["fewest"]["specimens"] == [2, 3, 2]
    assert document["together"]["fewest"]["next_batch"]["within_tolerance"] == 0.93
    assert [item["of"] for item in document["together"]["leasts"]] == [
        "breaks", "ages", "latest first break", "earliest last break"
    ]  # fmt: skip
    assert [target["age_h"] for target in document["targets"]] == [6.0, 24.0]
    assert sum(age["n_specimens"] for age in document["clause"]["ages"]) == 7
    flat = " ".join(shown(answer, width=4000).split())
    for paragraph in document["clause"]["paragraphs"]:
        assert paragraph["text"] in flat


def test_a_standard_that_is_asked_for_stands_beside() -> None:
    answer = invented_minimum()
    both = AtLeast(
        standard="ASTM C1074", fewest_specimens=15, fewest_ages=5, is_asked=True,
        programme=invented_programme(Schedule((6.0, 12.0, 24.0, 72.0, 672.0), (3, 3, 3, 3, 3)), 0.054),
    )  # fmt: skip
    text = shown(replace(answer, together=replace(answer.together, at_least=both)), width=400)
    row = next(line for line in text.splitlines() if line.startswith("ASTM C1074"))
    assert "15 specimens at 5 ages (from memory)" in row
    assert "6 h x3, 12 h x3, 1 d x3, 3 d x3, 28 d x3" in row
    none = replace(both, programme=None)
    text = shown(replace(answer, together=replace(answer.together, at_least=none)), width=400)
    assert "the plan allows no such programme" in text


def test_one_target_is_told_once() -> None:
    answer = invented_minimum()
    one = replace(
        answer,
        together=replace(answer.together, age_h=6.0),
        targets=answer.targets[:1],
        recommendation=replace(answer.recommendation, target_ages_h=(6.0,)),
    )
    assert shown(one).count("To read 6 h") == 1


def test_cautions_and_what_always_holds_stand_on_it() -> None:
    answer = invented_minimum()
    flat = " ".join(shown(answer).split())
    for sentence in answer.recommendation.standing_cautions:
        assert sentence in flat
    for caution in answer.recommendation.cautions:
        assert caution.code in flat
