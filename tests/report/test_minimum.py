"""The specification writer's answer: the fewest first, and a clause that says the document's numbers."""

from __future__ import annotations

import io
import json
from dataclasses import replace

from rich.console import Console

from planner.report.accounts.minimum_account import minimum_account, rule_words
from planner.report.documents.values.minimum_document import minimum_document
from planner.report.documents.values.recommendation_document import write_json
from planner.report.screens.terminal import print_sections
from planner.terms.results.answers import MinimumAnswer
from tests.report.invented_answers import invented_minimum


def shown(answer: MinimumAnswer, *, width: int = 100) -> str:
    stream = io.StringIO()
    print_sections(minimum_account(answer), Console(file=stream, width=width))
    return stream.getvalue()


def test_the_fewest_stand_in_the_first_ten_lines() -> None:
    head = "\n".join(shown(invented_minimum()).splitlines()[:10])
    assert head.count("6 h x2, 1 d x3, 28 d x2") == 3
    for word in ("all of them", "4.1 %", "96 %", "61 %", "9.0 %"):
        assert word in head


def test_ages_constraints_and_rules_are_told() -> None:
    text = shown(invented_minimum())
    assert "no help" in text
    assert "must" in text
    row = next(line for line in text.splitlines() if line.startswith("no break before 8 h"))
    assert row.split()[5:] == ["+1.2", "%", "10", "+3", "+120", "EUR"]
    assert "cannot be kept" in next(line for line in text.splitlines() if line.startswith("nothing after 1 d"))
    assert "none seen" in next(line for line in text.splitlines() if line.startswith("no break at a weekend"))
    flat = " ".join(text.split())
    assert "700 of 4095 schedules" in flat
    assert "right on 5 of 6 batches left out" in flat


def test_a_rule_without_a_check_claims_none() -> None:
    rule = replace(invented_minimum().targets[0].rules[0], n_held_out=0, held_out_rms=None)
    assert "left out" not in rule_words(rule)


def test_the_clause_says_what_the_document_says() -> None:
    answer = invented_minimum()
    document = json.loads(write_json(minimum_document(answer)))
    flat = " ".join(shown(answer).split())
    assert "DRAFT FOR THE ENGINEER" in flat
    for paragraph in document["clause"]["paragraphs"]:
        assert paragraph["text"] in flat
    assert sum(age["n_specimens"] for age in document["clause"]["ages"]) == 5
    assert document["schema"] == "test-age-planner/minimum/1"
    assert document["together"]["fewest"]["schedule"]["specimens"] == [2, 3, 2]
    assert [target["age_h"] for target in document["targets"]] == [6.0, 24.0]


def test_a_refused_clause_gives_its_reason_and_no_ages() -> None:
    answer = invented_minimum()
    refused = replace(answer.clause, ages=(), paragraphs=(), refused_because="it would rest on extrapolation.")
    text = shown(replace(answer, clause=refused))
    assert "No clause is drafted: it would rest on extrapolation." in text
    assert "Precedence" not in text


def test_where_no_schedule_will_do_the_table_says_so() -> None:
    answer = invented_minimum()
    none = replace(answer.together, fewest=None)
    head = "\n".join(shown(replace(answer, together=none)).splitlines()[:6])
    assert "no schedule keeps the error" in head


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
