"""`import planner` costs nothing; its names load when asked for."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pandas.api.types import is_numeric_dtype

import planner
from planner.questions.recommending import recommend
from planner.report.documents.choices_file import COLUMNS
from tests.cli.conftest import Engine, Outcome
from tests.report.invented_answers import invented_minimum, invented_price

Run = Callable[..., Outcome]


def test_import_loads_nothing_heavy() -> None:
    heavy = ["numpy", "scipy", "pandas", "sklearn", "numba", "pint", "pydantic", "typer", "rich"]
    code = f"import planner, sys; sys.exit(','.join(name for name in {heavy!r} if name in sys.modules) or 0)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_names_load_on_demand() -> None:
    from planner.questions.loading import load_plan

    assert planner.load_plan is load_plan
    assert planner.recommend is recommend
    assert set(dir(planner)) >= set(planner.__all__)


def test_a_wrong_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'forecast'"):
        planner.forecast  # noqa: B018


def test_importing_what_a_notebook_starts_with_loads_nothing_heavy() -> None:
    heavy = [
        "numpy",
        "pydantic",
        "scipy",
        "pandas",
        "sklearn",
        "numba",
        "matplotlib",
        "jinja2",
        "openpyxl",
        "icalendar",
    ]
    code = (
        "from planner import load_plan, recommend\nimport sys\n"
        f"sys.exit(','.join(name for name in {heavy!r} if name in sys.modules) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_advice_shows_itself_as_tables(plan: Path, engine: Engine) -> None:
    advice = planner.recommend(plan, seed=3)
    assert engine.asked[0]["seed"] == 3
    assert "6 h x3, 12 h x3, 1 d x3, 28 d x2" in repr(advice)
    shown = advice._repr_html_()
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", shown)
    assert "recommended" in cells
    assert any("6h" in cell.replace(" ", "") for cell in cells)
    assert shown.count("<table>") == shown.count("</table>") > 1


def test_user_text_in_a_notebook_stays_text(plan: Path, engine: Engine) -> None:
    engine.answer = replace(engine.answer, title="<script>alert(1)</script>")
    shown = planner.recommend(plan)._repr_html_()
    assert "<script>" not in shown
    assert "&lt;script&gt;" in shown


def test_the_table_of_choices_holds_numbers(plan: Path, engine: Engine) -> None:
    choices = planner.recommend(plan).choices
    assert tuple(choices.columns) == COLUMNS
    assert len(choices) == len(engine.answer.choices.schedules)
    words = {"ages", "specimens", "curve", "weighting", "maturity", "evidence", "basis"}
    assert {name for name in COLUMNS if not is_numeric_dtype(choices[name])} == words
    assert choices["rms"].tolist() == pytest.approx(list(engine.answer.choices.rms), nan_ok=True)
    assert choices["n_specimens"].tolist() == [sum(one.specimens) for one in engine.answer.choices.schedules]


def test_an_option_that_there_is_not_is_a_type_error(plan: Path) -> None:
    with pytest.raises(TypeError, match="draws"):
        planner.recommend(plan, draws=5)  # type: ignore[call-arg]


def test_a_plan_with_faults_is_a_value_error(plan: Path) -> None:
    plan.write_text(plan.read_text().replace('"10 %"', '"110 %"'))
    with pytest.raises(ValueError, match="tolerance") as raised:
        planner.recommend(plan)
    assert isinstance(raised.value, planner.InputError)


@pytest.mark.parametrize("given", ["2027-03-01 22:00", ["2027-03-01 22:00", "2027-03-08 08:00/2027-03-08 12:00"]])
def test_python_dates_and_writes_what_the_command_does(
    run: Run, plan: Path, tmp_path: Path, given: str | list[str]
) -> None:
    casts = [given] if isinstance(given, str) else given
    if len(casts) > 1:
        plan.write_text(plan.read_text(encoding="utf-8") + "\n[programme]\ntrial_batches = 2\n", encoding="utf-8")
    written = planner.recommend(plan, cast=given).write(tmp_path / "python")
    ran = run("recommend", plan, "--out", tmp_path / "command", *(word for one in casts for word in ("--cast", one)))
    assert ran.code == 0
    assert {path.name for path in written} == {path.name for path in (tmp_path / "command").iterdir()}
    for name in ("recommendation.json", "choices.csv", "report.html"):
        assert (tmp_path / "python" / name).read_bytes() == (tmp_path / "command" / name).read_bytes()
    assert (tmp_path / "python" / "breaks.ics").read_bytes().count(b"BEGIN:VEVENT") == 4 * len(casts)


def test_a_casting_time_that_is_none_is_refused_before_the_work(plan: Path, engine: Engine) -> None:
    with pytest.raises(planner.InputError, match=r"'soon' is no casting time[\s\S]*'later' is no casting time"):
        planner.recommend(plan, cast=["soon", "later"])
    assert engine.asked == []


FILES = {
    "minimum": {"minimum.json", "clause.html", "clause.docx"},
    "price": {"price.json", "estimate.html", "estimate.xlsx"},
}


def words_of(text: str) -> list[str]:
    return re.findall(r"[\w.%]+", text)


def test_every_question_is_answered_as_the_command_answers_it(
    run: Run, plan: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, answer in {"price": invented_price(), "minimum": invented_minimum()}.items():
        monkeypatch.setitem(sys.modules["planner.pipeline"].__dict__, name, lambda *_, answer=answer, **__: answer)
    schedule = "1 d x3, 2 d x3, 7 d x2"
    asked = {
        "score": (planner.score(plan, schedule), ("--schedule", schedule)),
        "price": (planner.price(plan), ()),
        "minimum": (planner.minimum(plan), ()),
        "sweep": (planner.sweep(plan, targets="16 h, 3 d"), ("--targets", "16 h, 3 d")),
    }
    for name, (answer, words) in asked.items():
        ran = run(name, plan, *words, "--json")
        assert ran.code == 0
        assert answer.json() == ran.out
        written = answer.write(tmp_path / name)
        assert {path.name for path in written} == FILES.get(name, {f"{name}.{'csv' if name == 'sweep' else 'json'}"})
        assert words_of(run(name, plan, *words).out)[:4] == words_of(repr(answer))[:4]


def test_check_tells_and_writes_but_never_over_the_records(run: Run, plan: Path, tmp_path: Path) -> None:
    found = planner.check(plan)
    assert words_of(run("check", plan).out)[:8] == words_of(repr(found))[:8]
    assert {path.name for path in found.write(tmp_path / "tidy")} == {"breaks.csv", "temperatures.csv"}
    with pytest.raises(planner.InputError, match="not overwritten"):
        found.write(plan.parent)
