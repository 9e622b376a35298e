"""The clause, paragraph by paragraph: who shall do what, with which figure, and what follows where it is not done."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import Any

import pytest

from planner.issued_curve.rules.rule_words import lasting_words, tonight_words
from planner.report.documents.clause_file import clause_docx
from planner.report.documents.pages.clause_page import render_clause
from planner.report.documents.values.minimum_document import clause_document
from planner.report.text.clause.clause_paragraph import ClauseParagraph
from planner.report.text.clause.clause_text import clause_account, clause_sections
from planner.report.text.clause.clause_values import deviation_words
from planner.report.text.plain_blocks import plain_sections
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.minimum.clause_terms import ClauseAge, ClauseChecks, ClauseTerms, StandardAsks
from tests.report.invented_answers import invented_clause

PARTIES = ("the contractor", "the laboratory", "the engineer", "the owner")
EXEMPT = {
    "Scope", "Interim", "Target", "Strength level", "Age zero", "Maturity", "Companion", "Trial batch", "Precedence"
}  # fmt: skip


def interim() -> ClauseTerms:
    return replace(
        invented_clause(), kind="interim", interim_because="nothing was broken", error=None, strength_mpa=None,
        temperature_c=None, recorded_temperature_c=None, standard=None,
        checks=ClauseChecks(companions_per_check=2, check_sd=None, acceptance="", chance_of_alarm=()),
    )  # fmt: skip


def followed() -> ClauseTerms:
    clause = invented_clause()
    asks = StandardAsks(
        standard="ASTM C1074", fewest_specimens=15, fewest_ages=5, ages=clause.ages, n_trial_batches=1, is_followed=True
    )
    return replace(clause, standard=asks)


def unknown_pours() -> ClauseTerms:
    clause = invented_clause()
    assert clause.error is not None
    error = replace(
        clause.error, later_rms=None, later_within_tolerance=None, is_later_kept=None, safe_reading_factor=None,
        no_factor_because="two batches",
    )  # fmt: skip
    return replace(clause, error=error, temperature_c=None, checks=replace(clause.checks, check_sd=None))


def of_cubes(**changed: Any) -> ClauseTerms:
    found = CurveConversion(
        from_geometry="cube 150 mm", to_geometry="cylinder 150x300 mm", form="ratio", factor=0.873, exponent=1.0,
        rms=0.018, span_mpa=(21.4, 65.5), n_pairs=45, n_batches=5,
    )  # fmt: skip
    return replace(invented_clause(), geometry="cube 150 mm", conversion=replace(found, **changed))


CLAUSES = {
    "of cubes": of_cubes,
    "of a stated factor": lambda: of_cubes(form="stated factor", span_mpa=None, n_pairs=0, n_batches=0),
    "kept": invented_clause,
    "later pours miss": lambda: invented_clause(is_kept=False),
    "interim": interim,
    "standard followed": followed,
    "later pours unknown": unknown_pours,
}


def paragraphs(clause: ClauseTerms) -> dict[str, ClauseParagraph]:
    return {part.subject: part for section in clause_sections(clause) for part in section.paragraphs}


@pytest.mark.parametrize("name", CLAUSES)
def test_every_paragraph_has_party_duty_figure_and_consequence(name: str) -> None:
    for part in paragraphs(CLAUSES[name]()).values():
        if part.subject in EXEMPT:
            assert part.party is None
            continue
        assert part.party in PARTIES, part
        assert part.party in part.duty.lower(), part
        assert re.search(r"\b[Tt]he (contractor|laboratory|engineer|owner) shall\b", part.duty), part
        assert re.search(r"\d", re.sub(r"ASTM C\d+", "", part.text)), part
        assert len(part.consequence.split()) > 3, part
        assert part.text.endswith(part.consequence)
        assert part.rests_on, part


@pytest.mark.parametrize("name", CLAUSES)
def test_numbers_run_through_and_every_kind_of_duty_is_there(name: str) -> None:
    sections = clause_sections(CLAUSES[name]())
    assert [section.number for section in sections] == ["1", "2", "3", "4", "5", "6"]
    for section in sections:
        assert [part.number for part in section.paragraphs] == [
            f"{section.number}.{place}" for place in range(1, len(section.paragraphs) + 1)
        ]
    assert {
        "Trial batches", "Specimens", "Curing", "Ages", "Sensors of the trial batch",
        "Maturity function", "Curve", "Acceptance of the calibration", "Sensors of a pour", "Temperature range",
        "Companions of a pour", "New calibration", "Records", "Signatures", "Payment", "Precedence",
    } <= set(paragraphs(CLAUSES[name]()))  # fmt: skip


def test_the_figures_are_those_of_the_terms() -> None:
    found = paragraphs(invented_clause())
    ages = "6 h (±7 min): 2 specimens; 1 d (±30 min): 3 specimens; 28 d (±20 h): 2 specimens"
    assert ages in found["Ages"].text
    assert "at least 7 specimens for breaking (cylinder 100x200 mm)" in found["Specimens"].text
    assert "1.21 times that strength" in found["Safe reading"].text
    assert "within 12 to 30 C" in found["Temperature range"].text
    assert "the time the concrete is placed" in found["Age zero"].text
    assert "Q 5000 K" in found["Maturity function"].text
    assert "4.1 % RMS, later pour 5.8 % RMS" in found["Ages"].rests_on
    assert "at least 15 specimens at 5 ages" in found["Where ASTM C1074 is in force"].text


def test_a_further_specimen_is_asked_for_where_an_age_has_two() -> None:
    clause = invented_clause()
    assert "differ by more than 10 % of their mean" in paragraphs(clause)["A further specimen"].text
    threes = tuple(replace(age, n_specimens=3) for age in clause.ages)
    assert "A further specimen" not in paragraphs(replace(clause, ages=threes))
    assert "A further specimen" in paragraphs(replace(clause, ages=(replace(threes[0], n_specimens=2), *threes[1:])))


def test_a_converting_clause_says_whose_strength_is_read() -> None:
    clause = invented_clause()
    assert "compressive strength of cylinder 100x200 mm, read at" in paragraphs(clause)["Scope"].text
    assert "converted" not in paragraphs(clause)["Strength level"].text
    found = CurveConversion(
        from_geometry="cylinder 100x200 mm", to_geometry="cylinder 150x300 mm", form="ratio", factor=0.96,
        exponent=1.0, rms=0.02, span_mpa=(8.0, 60.0), n_pairs=20, n_batches=5,
    )  # fmt: skip
    told = paragraphs(replace(clause, conversion=found))
    assert "strength of cylinder 150x300 mm, told by cylinder 100x200 mm, read at" in told["Scope"].text
    assert "at the targets, converted as below; for other" in told["Strength level"].text


def test_the_rules_have_the_wording_of_every_other_output() -> None:
    found = paragraphs(invented_clause())
    assert tonight_words(sd=0.10) in found["Tonight's rule"].text
    assert lasting_words(sd=0.10) in found["Lasting rule"].text
    assert invented_clause().checks.acceptance in found["Acceptance of the calibration"].text


def test_one_temperature_range_and_one_list_of_causes() -> None:
    text = " ".join(part.text for part in paragraphs(invented_clause()).values())
    assert re.findall(r"\d+ to \d+ C\b", text) == ["12 to 30 C"]
    assert text.count("calibrate anew") == 1


def test_later_pours_that_miss_the_tolerance_are_told_in_the_clause() -> None:
    missed = paragraphs(invented_clause(is_kept=False))["Later pours are not read within the tolerance"].text
    assert "only 61 % of later pours within 10 % (95 % sure: at least 52 %) where 90 % are wanted" in missed
    assert "11.3 % RMS" in missed
    assert "No pour shall be released on a reading alone" in missed
    assert "Later pours are not read within the tolerance" not in paragraphs(invented_clause())
    unknown = paragraphs(unknown_pours())["Later pours are not read within the tolerance"].text
    assert "do not tell how later pours differ" in unknown


def test_an_interim_clause_promises_nothing() -> None:
    clause = interim()
    text = " ".join(part.text for part in paragraphs(clause).values())
    assert "interim and promises nothing" in text
    assert "RMS" not in text
    assert "90 %" not in text
    assert "safe reading" not in text
    assert clause_document(clause)["heading"] == "INTERIM DRAFT FOR THE ENGINEER: PROMISES NOTHING"


def test_a_refused_clause_gives_its_reason_and_nothing_else() -> None:
    refused = replace(invented_clause(), kind="refused", refused_because="it would rest on extrapolation.", ages=())
    for text in (
        plain_sections(clause_account(refused)),
        render_clause(refused, title="T"),
        docx_text(clause_docx(refused, title="T")),
    ):
        assert "No clause is drafted: it would rest on extrapolation." in text
        assert "shall" not in text


@pytest.mark.parametrize("name", CLAUSES)
def test_page_document_and_word_file_say_the_same(name: str) -> None:
    clause = CLAUSES[name]()
    page = re.sub(r"<[^>]+>", "", render_clause(clause, title="Panels")).replace("&#39;", "'").replace("\xa0", " ")
    word = docx_text(clause_docx(clause, title="Panels"))
    for part in clause_document(clause)["paragraphs"]:
        assert part["text"] in page
        assert part["text"] in word
        assert f"{part['number']}\t{part['subject']}. " in word


def test_markup_in_names_stays_text() -> None:
    clause = replace(invented_clause(), mixes=("<b>mix</b>",))
    assert "<b>mix</b>" not in render_clause(clause, title="<script>x</script>")
    assert "<script>" not in render_clause(clause, title="<script>x</script>")


@pytest.mark.parametrize(
    ("deviation_h", "said"),
    [
        (0.08, "±4 min"), (0.12, "±7 min"), (0.25, "±15 min"), (0.33, "±15 min"), (0.5, "±30 min"), (0.96, "±55 min"),
        (2.0, "±2 h"), (2.9, "±2.5 h"), (6.72, "±6 h"), (20.0, "±20 h"), (0.001, "±1 min"),
    ],
)  # fmt: skip
def test_deviations_are_rounded_down_to_what_a_person_writes(deviation_h: float, said: str) -> None:
    assert deviation_words(deviation_h) == said


def test_without_a_standard_of_deviations_the_engineer_states_them() -> None:
    bare = replace(
        invented_clause(), deviations_after="", ages=(ClauseAge(age_h=6.0, n_specimens=1, permitted_deviation_h=None),)
    )
    text = paragraphs(bare)["Ages"].text
    assert "6 h: 1 specimen." in text
    assert "The engineer shall state the permitted deviation of every age." in text


def docx_text(content: bytes) -> str:
    from docx import Document

    document = Document(io.BytesIO(content))
    cells = [cell.text for table in document.tables for row in table.rows for cell in row.cells]
    return "\n".join([*(paragraph.text for paragraph in document.paragraphs), *cells])


def test_when_cubes_may_serve_a_specification_of_cylinders() -> None:
    assert "Conversion" not in paragraphs(invented_clause())
    found = paragraphs(of_cubes())["Conversion"]
    assert found.party == "the engineer"
    assert "0.873 times the strength broken" in found.duty
    assert "(45 in 5 batches, 21.4 to 65.5 MPa of the cube 150 mm) span the strength that decides" in found.duty
    assert "safe reading rests on the total error of curve and conversion" in found.duty
    for name in ("C30/37", "EN 206", "EN 1992", "ASTM C39"):
        assert name in found.duty
    assert "are no such conversion" in found.duty
    assert found.consequence.endswith("the calibration shall be made with the cylinder 150x300 mm.")
    assert "1.8 % off" in found.rests_on
    stated = paragraphs(of_cubes(form="stated factor", span_mpa=None))["Conversion"]
    assert "at least 3 batches before" in stated.duty
    assert "0.873 with 1.8 % from batch to batch is stated and checked by no pairs" in stated.duty
    power = paragraphs(of_cubes(form="power law", factor=0.65, exponent=1.07))["Conversion"]
    assert "0.65 times the strength in MPa to the power 1.0700 broken" in power.duty
