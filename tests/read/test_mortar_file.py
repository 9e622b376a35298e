"""A table of mortar cubes: what it makes of the plan's constants, and one message for each thing wrong with it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.evidence.maturity_grid import maturity_settings
from planner.questions.asking import check
from planner.read import check_plan, load_plan
from planner.report.accounts.parts.mortar_account import mortar_section
from planner.report.text.plain_blocks import plain_sections
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.mortar import MortarConstant, MortarConstants
from planner.terms.results.constants import AtConstant, Constants, ConstantsOfMethod
from planner.verdict.wording.cautions.mortar_cautions import mortar_cautions
from tests.published.test_constants_from_mortar import cubes
from tests.read.invented_study import plan_text, write_study

MORTAR = 'mortar = "mortar.csv"'


def rows_of(breaks, *, heading="age_h,temperature_c,strength_mpa"):
    lines = [heading]
    lines += [
        f"{age:g},{t:g},{mpa:.2f}"
        for age, t, mpa in zip(breaks.age_h, breaks.temperature_c, breaks.strength_mpa, strict=True)
    ]
    return lines


def plan_of(folder: Path, lines, *, maturity: str = MORTAR) -> Path:
    folder.mkdir(exist_ok=True)
    path = write_study(folder, plan=plan_text(maturity=maturity))
    (folder / "mortar.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def problems_of(folder: Path, lines) -> list[str]:
    return [str(problem.text) for problem in check_plan(plan_of(folder, lines))[1]]


def test_the_constants_join_and_rule_out(tmp_path):
    breaks = cubes(cv=0.02, n_each=3, seed=3)
    plan = load_plan(plan_of(tmp_path, rows_of(breaks), maturity=MORTAR + "\nequivalent_age_q_k = [3000, 4800, 7000]"))
    grid = plan.settings.maturity
    assert grid.mortar is not None
    found = grid.mortar.q_k
    assert found.dropped == (3000.0, 7000.0)
    assert found.least < 4800 < found.most
    assert found.taken == 50 * round(found.value / 50)
    assert grid.equivalent_age_q_k == tuple(sorted({4800.0, found.taken}))
    assert grid.datum_c == ()
    assert grid.mortar.datum_c.taken is None  # the plan asks for no datum
    assert "mortar.csv" in dict(plan.inputs)


def test_never_all_candidates_go(tmp_path):
    text = MORTAR + "\nequivalent_age_q_k = [2000, 9000]\ndatum_c = [-10]"
    grid = load_plan(plan_of(tmp_path, rows_of(cubes(cv=0.01, n_each=3, seed=5)), maturity=text)).settings.maturity
    assert grid.mortar is not None
    assert grid.equivalent_age_q_k == (grid.mortar.q_k.taken,)
    assert grid.mortar.q_k.dropped == (2000.0, 9000.0)
    assert grid.mortar.datum_c.taken in grid.datum_c


@pytest.mark.parametrize(
    ("heading", "age", "temperature", "strength"),
    [
        ("age_d,temperature_c,strength_mpa", 1 / 24, (1, 0), 1.0),
        ("age_h,temperature_f,strength_psi", 1.0, (1.8, 32), 145.037738),
        ("age_h,Temp C,fc_ksi", 1.0, (1, 0), 0.145037738),
    ],
)
def test_units_are_those_of_the_headings(tmp_path, heading, age, temperature, strength):
    breaks = cubes(cv=0.02, n_each=2, seed=1)
    lines = [heading] + [
        f"{h * age!r},{t * temperature[0] + temperature[1]!r},{mpa * strength!r}"
        for h, t, mpa in zip(
            breaks.age_h.tolist(), breaks.temperature_c.tolist(), breaks.strength_mpa.tolist(), strict=True
        )
    ]
    grid = load_plan(plan_of(tmp_path, lines)).settings.maturity
    plain = load_plan(plan_of(tmp_path, rows_of(breaks))).settings.maturity
    assert grid.mortar is not None
    assert plain.mortar is not None
    assert grid.mortar.q_k.value == pytest.approx(plain.mortar.q_k.value, rel=1e-3)


GOOD = rows_of(cubes())


def changed(change):
    return [GOOD[0], *(change(*map(float, line.split(","))) for line in GOOD[1:])]


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ([], "empty"),
        (["age_h,strength_mpa", "24,10"], 'no column "temperature_c"'),
        (["age_h,temprature_c,strength_mpa", "24,20,10"], 'nearest known is "temperature_c"'),
        (["age_h,age_d,temperature_c,strength_mpa", "24,1,20,10"], "2 age columns"),
        ([line for line in GOOD if ",8," not in line], "at least 3 temperatures. Add cubes"),
        (
            [GOOD[0], *(line for line in GOOD[1:] if ",8," not in line or line.startswith("48,"))],
            r"At 8 C cubes were broken at 1 age (2 d); the curve needs at least 4",
        ),
        (changed(lambda age, t, mpa: f"{age},{t},{145 * mpa}"), "stronger than any concrete"),
        (changed(lambda age, t, mpa: f"{age},{t},{mpa / 1000}"), "too weak for hardened concrete"),
        (changed(lambda age, t, mpa: f"{age},{1.8 * t + 273},{mpa}"), "mortar is cured at 0 C to 80 C"),
        (changed(lambda age, t, mpa: f"{-age},{t},{mpa}"), "it must be above 0"),
        (changed(lambda age, t, mpa: f"{age},{t},{50 - mpa / 2}"), "At 8 C the strengths do not grow: "),
        (changed(lambda age, t, mpa: f"{age},{46 - t},{mpa}"), "hardens no faster when it is warmer"),
        (changed(lambda age, t, mpa: f"{age},{t},{0.03 * age + 0 * mpa}"), "too straight or too flat"),
        (changed(lambda age, t, mpa: f"{age},{t},weak {mpa}"), "no number"),
        ([GOOD[0]], "There are headings but no rows below them"),
        (["age_h,temperature_c", "24,20"], 'no column "strength_mpa"'),
        (["age_h,temperature_c,load_kn", "24,20,50"], 'no column "strength_mpa"'),
        (["age_h,temperature_c,temperature_f,strength_mpa", "24,20,68,10"], "2 temperature columns"),
        ([line for line in GOOD if ",8," not in line and ",23," not in line], "at least 3 temperatures. Add cubes"),
        (changed(lambda age, t, mpa: f"{age},{1.8 * t + 32},{mpa}"), "Given 100.4 C; mortar is cured at 0 C to 80 C"),
        (changed(lambda age, t, mpa: f"{age},{t},{mpa if t > 8 else 0}"), "The strength is 0, but it must be above 0"),
        (changed(lambda age, t, mpa: f"{age},{t},{-mpa}"), "it must be above 0"),
        (changed(lambda age, t, mpa: f"{age},{t} C,{mpa}"), 'C", which is no number'),
        (changed(lambda age, t, mpa: f"{age},{t},{mpa if t > 8 else 'nan'}"), "must be a finite number"),
        (changed(lambda age, t, mpa: f"{age},{t},{mpa if t > 8 else ''}"), "The cell is empty"),
        (changed(lambda age, t, mpa: f"{age},{t},{mpa * 1e300}"), "larger than any age, strength or temperature"),
        (changed(lambda age, t, mpa: f"{t},{age},{mpa}"), "mortar is cured at 0 C to 80 C"),
        (
            changed(lambda age, t, mpa: f"{age},{t + 0.1 * (age > 48)},{mpa}"),
            "Write for every cube the one temperature",
        ),
        (changed(lambda age, t, mpa: f"{age},{20 + t / 10},{mpa}"), "the one temperature that its bath is kept at"),
        (changed(lambda age, t, mpa: f"{age},{20 + t / 5},{mpa}"), "6 K apart in all; below 10 K scatter decides"),
        ([*GOOD, *GOOD[1:]], "Rows 20 to 37 say again what stands from row 2 on"),
        ([*GOOD, *GOOD[4:7]], "Rows 20 to 22 say again what stands from row 5 on"),
        (changed(lambda age, t, mpa: f"{age / 24},{t},{mpa}"), "half its strength after 1.72 h on the mean"),
        (changed(lambda age, t, mpa: f"{60 * age},{t},{mpa}"), "Correct the ages, or their unit in the heading"),
        (["age_d,temperature_c,strength_mpa", *GOOD[1:]], "half its strength after 988 h on the mean"),
        (
            [GOOD[0] + ",rejected", *(f"{line},{'yes' if ',8,' in line else ''}" for line in GOOD[1:])],
            'Rename it to "void"',
        ),
        ([GOOD[0] + ",void", *(f"{line},1.5" for line in GOOD[1:])], "The reason of the void is"),
        ([GOOD[0] + ",mix", *(f"{line},{'A' if ',8,' in line else 'B'}" for line in GOOD[1:])], "of 2 mixes (A, B)"),
    ],
)
def test_one_message_for_each_fault(tmp_path, lines, says):
    found = problems_of(tmp_path, lines)
    assert any(says in text for text in found), found
    assert len(found) <= 3 or all(says in text for text in found)  # one a temperature, or one a row


def test_a_missing_file_is_told_beside_faults_of_the_plan(tmp_path):
    path = write_study(tmp_path, plan=plan_text(maturity=MORTAR, budget="specimens = 0"))
    found = [(problem.file, problem.column) for problem in check_plan(path)[1]]
    assert ("plan.toml", "budget.specimens") in found
    assert "mortar.csv" in [file for file, _ in found]


def test_check_tells_rates_and_constants(tmp_path):
    path = plan_of(tmp_path, rows_of(cubes(cv=0.02, n_each=3, seed=3)))
    answer = check(path)
    found = load_plan(path).settings.maturity.mortar
    assert found is not None
    assert answer.document["mortar"]["q_k"]["value"] == found.q_k.value
    text = " ".join(plain_sections(answer.sections).split())
    assert f"Q {found.q_k.value:.0f} K, standard error {found.q_k.standard_error:.0f}" in text
    assert f"{found.rates[0].rate_per_d:.4g}" in text


def test_where_records_cannot_tell_the_mortar_does(tmp_path):
    plan = load_plan(plan_of(tmp_path, rows_of(cubes(cv=0.02, n_each=3, seed=3))))
    grid = plan.settings.maturity
    prior = replace(plan.settings.prior, standard_curing_c=20.0)
    (setting,), caution = maturity_settings(plan.records, prior, grid)
    assert grid.mortar is not None
    assert setting == MaturitySetting("equivalent age", grid.mortar.q_k.taken or 0.0, 20.0)
    assert caution is not None
    assert "as the mortar tells" in caution.text


def mortar(value: float, reach: float, *, taken: float | None) -> MortarConstants:
    q = MortarConstant(
        value=value, standard_error=reach / 2, least=value - reach, most=value + reach, is_on_a_line=True,
        taken=taken, dropped=(),
    )  # fmt: skip
    nothing = MortarConstant(
        value=3.0, standard_error=1.0, least=1.0, most=5.0, is_on_a_line=True, taken=None, dropped=()
    )
    return MortarConstants(file="mortar.csv", rates=(), q_k=q, datum_c=nothing)


def study(judged_on="later pour") -> Constants:
    """The later pour is read best with Q 3000, about as well up to 3500; the own batch with 5000."""
    points = tuple(
        AtConstant(
            constant=q, own_rms=0.03 + abs(q - 5000.0) * 1e-5, later_rms=0.10 + abs(q - 3000.0) * 1e-5, by_condition=()
        )
        for q in np.arange(2000.0, 8001.0, 250.0)
    )
    good = (2500.0, 3500.0) if judged_on == "later pour" else (4500.0, 5500.0)
    method = ConstantsOfMethod(method="equivalent age", points=points, about_as_good=good, hours=())
    chosen = MaturitySetting("equivalent age", 3000.0, 20.0)
    return Constants(chosen=chosen, conditions=(), judged_on=judged_on, immaterial=0.0025, methods=(method,))


def test_a_contradiction_is_a_caution():
    (caution,) = mortar_cautions(study(), mortar(5000.0, 400.0, taken=5000.0))
    assert caution.code == "mortar-against-companions"
    assert "Q of 5000 K (95 %: 4600 to 5400)" in caution.text
    assert "read best with 3000 K: 10.0 % off on a later pour, 12.0 % with" in caution.text
    assert not list(mortar_cautions(study("own batch"), mortar(5000.0, 400.0, taken=5000.0)))
    assert not list(mortar_cautions(study(), mortar(5000.0, 1500.0, taken=5000.0)))  # the intervals meet
    assert not list(mortar_cautions(study(), mortar(5000.0, 400.0, taken=None)))
    assert not list(mortar_cautions(None, mortar(5000.0, 400.0, taken=5000.0)))
    assert not list(mortar_cautions(study(), None))


def test_the_section_says_both():
    text = plain_sections((mortar_section(mortar(5000.0, 400.0, taken=5000.0), study()),))
    assert "95 % from 4600 to 5400 K" in " ".join(text.split())
    assert "on a later pour with Q of 2500 to 3500 K" in " ".join(text.split())


def mortar_of(folder: Path, lines) -> MortarConstants:
    found = load_plan(plan_of(folder, lines)).settings.maturity.mortar
    assert found is not None
    return found


def test_a_void_cube_is_not_used_and_is_said(tmp_path):
    noisy = rows_of(cubes(cv=0.03, n_each=2, seed=4))
    lines = [noisy[0] + ",void", *(f"{line},{'cracked' if at == 3 else ''}" for at, line in enumerate(noisy[1:]))]
    plan = load_plan(plan_of(tmp_path / "void", lines))
    without = mortar_of(tmp_path / "less", [*noisy[:4], *noisy[5:]])
    assert plan.settings.maturity.mortar == replace(without)
    assert without != mortar_of(tmp_path / "all", noisy)
    said = [item.text for item in plan.records.cautions if item.code == "voided-cubes"]
    assert said == ["mortar.csv: void and not used: 1 cube (row 5: cracked)."]


def test_hot_baths_and_rates_that_tell_nothing_are_cautions(tmp_path):
    def codes(folder: str, lines) -> set[str]:
        return {item.code for item in load_plan(plan_of(tmp_path / folder, lines)).records.cautions}

    doubts = {"mortar-cured-hot", "mortar-tells-no-q"}
    assert not codes("good", GOOD) & doubts
    assert codes("hot", changed(lambda age, t, mpa: f"{age},{t + 8},{mpa}")) & doubts == {"mortar-cured-hot"}
    at_age = {age: mpa for age, _, mpa in reversed([line.split(",") for line in GOOD[1:]])}
    alike = [GOOD[0], *(f"{age},{t},{at_age[age]}" for age, t, _ in (line.split(",") for line in GOOD[1:]))]
    assert mortar_of(tmp_path / "alike", alike).q_k.least < 0
    assert codes("alike", alike) & doubts == {"mortar-tells-no-q"}


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_other_encodings_and_separators_are_read(tmp_path, encoding):
    path = plan_of(tmp_path, GOOD)
    text = "\n".join(line.replace(",", ";").replace(".", ",") for line in GOOD)
    (tmp_path / "mortar.csv").write_bytes((text + "\n").encode(encoding))
    found = load_plan(path).settings.maturity.mortar
    assert found is not None
    assert found.q_k.value == pytest.approx(mortar_of(tmp_path / "plain", GOOD).q_k.value)


@pytest.mark.parametrize("content", [b"", bytes(range(256)) * 5, b"PK\x03\x04" + b"0" * 100, b"<html><table></table>"])
def test_what_is_no_table_is_refused(tmp_path, content):
    path = plan_of(tmp_path, GOOD)
    (tmp_path / "mortar.csv").write_bytes(content)
    (found,) = [problem for problem in check_plan(path)[1] if problem.file == "mortar.csv"]
    assert len(found.text) < 200


def test_three_ages_are_one_too_few(tmp_path):
    ages = {"48", "96", "192"}
    lines = [GOOD[0], *(line for line in GOOD[1:] if ",8," not in line or line.split(",")[0] in ages)]
    (text,) = problems_of(tmp_path, lines)
    assert "At 8 C cubes were broken at 3 ages" in text
