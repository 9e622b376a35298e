"""Every output of every scenario as a reader has it, of plans cut down to a second of work: made once for each plan.

A plan is searched once; price, minimum and the issued curve take what was found. The same answers are then written in
SI and in US units, as their commands write them.
"""

from __future__ import annotations

import html
import io
import re
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from openpyxl import load_workbook

from planner import pipeline
from planner.laboratory.casting.casting_times import cast_at
from planner.questions import first_compile
from planner.questions.after_casting import issue_curve, read_pour, site_checks
from planner.questions.answer import Answer
from planner.questions.asking import check, minimum, price, score
from planner.questions.recommending import undated
from planner.read import load_plan
from planner.report.text.plain_blocks import plain_sections
from planner.starter import STARTER
from planner.sweeping.sweep_plans import sweep
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError
from planner.terms.results.recommended.recommendation import Recommendation
from scenarios.catalogue import RUNWAY_PANELS, SLEEPERS, STARTER_SLAB, TUNNEL_SEGMENTS, Scenario
from scenarios.draws import draw_records
from scenarios.geometries import SLEEPER_GEOMETRIES, other_rows
from scenarios.writing import write_breaks, write_readings
from tests.learnt_once import populations_learnt_once

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
PLANS: dict[str, tuple[Path, Scenario | None]] = {
    "runway panels": (FOLDER / "runway-panels" / "plan.toml", RUNWAY_PANELS),
    "opening at 6 h": (FOLDER / "runway-panels" / "opening-6h.toml", RUNWAY_PANELS),
    "specification": (FOLDER / "runway-panels" / "specification.toml", RUNWAY_PANELS),
    "sleepers": (FOLDER / "sleepers" / "plan.toml", SLEEPERS),
    "stair core": (FOLDER / "stair-core" / "plan.toml", None),
    "tunnel segments": (FOLDER / "tunnel-segments" / "plan.toml", TUNNEL_SEGMENTS),
    "tunnel, sparse": (FOLDER / "tunnel-segments" / "sparse.toml", None),
    "starter": (STARTER / "plan.toml", STARTER_SLAB),
}
CAST = "2027-03-01 14:00"
N_DRAWS = 10
SEED = 77  # of the trial batch and the pours: any other concrete of the same law would do
UNITS = ("SI", "US")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScenarioOutputs:
    """What one plan gives."""

    plan: Plan
    advice: Recommendation
    texts: Mapping[str, Mapping[str, str]]  # by units, by the name of the output: every blank is one, lines are joined

    def __iter__(self) -> Iterator[tuple[str, str, str]]:
        """Units, name and text of every output."""
        return ((units, name, text) for units, texts in self.texts.items() for name, text in texts.items())


@cache
def outputs_of(name: str) -> ScenarioOutputs:
    """Every output of one plan."""
    path, scenario = PLANS[name]
    with TemporaryDirectory() as folder, populations_learnt_once(), _searched_once() as results:
        here = Path(folder)
        texts = {units: dict(_made(_cut(path, here / units, units), scenario)) for units in UNITS}
        plan = load_plan(here / "SI" / path.name)
        (advice,) = (found for found in results.values() if isinstance(found, Recommendation))
    return ScenarioOutputs(plan=plan, advice=advice, texts=texts)


@cache
def advice_of(name: str) -> Recommendation:
    """The recommendation alone, where no output is looked at."""
    path, _ = PLANS[name]
    with TemporaryDirectory() as folder, populations_learnt_once():
        plan = load_plan(_cut(path, Path(folder) / "SI", "SI"))
        return pipeline.recommend(plan, n_draws=N_DRAWS, workers=1)


def _cut(path: Path, folder: Path, units: str) -> Path:
    """The plan with its tables in a folder of its own, a few hundred schedules of it, in the units asked for."""
    folder.mkdir()
    for table in path.parent.glob("*.csv"):
        (folder / table.name).write_bytes(table.read_bytes())
    text = re.sub(r"most_ages = \d", "most_ages = 4", path.read_text(encoding="utf-8"))
    text = re.sub(r"specimens_per_age = \[\d, \d\](?=\n(?:minimum_gap|least))", "specimens_per_age = [3, 3]", text)
    (folder / path.name).write_text(f'{text}\n[output]\nunits = "{units}"\n', encoding="utf-8")
    return folder / path.name


@contextmanager
def one_search() -> Iterator[None]:
    """Inside, one plan is settled and searched once; every question takes what was found, of which all is held."""
    found: dict[str, Any] = {}
    settle, search = pipeline.settled, pipeline._searched

    def settled(*given: Any) -> Any:
        if "settled" not in found:
            found["settled"] = settle(*given)
        return found["settled"]

    def searched(*given: Any, **_options: Any) -> Any:
        if "searched" not in found:
            found["searched"] = search(*given, asks="everything")
        return found["searched"]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "settled", settled)
        patch.setattr(pipeline, "_searched", searched)
        yield


@contextmanager
def _searched_once() -> Iterator[dict[str, Any]]:
    """Inside, each question of the corridor is worked out once, whatever the units it is then told in."""
    found: dict[str, Any] = {}

    def once(name: str, compute: Callable[..., Any]) -> Callable[..., Any]:
        def asked(*given: Any, **options: Any) -> Any:
            if name not in found:
                found[name] = compute(*given, **options)
            return found[name]

        return asked

    with one_search(), pytest.MonkeyPatch.context() as patch:
        patch.setattr(first_compile, "compile_first", lambda _: None)
        for name in ("recommend", "price", "minimum"):
            patch.setattr(pipeline, name, once(name, getattr(pipeline, name)))
        patch.setattr(pipeline, "score", lambda plan, _, **options: _rated(pipeline.recommend(plan, **options)))
        yield found


def _rated(advice: Recommendation) -> tuple[Any, Recommendation]:
    return (advice.compared or (advice.recommended,))[0], advice


def _made(plan: Path, scenario: Scenario | None) -> Iterator[tuple[str, str]]:
    inputs, options = cast_at(load_plan(plan), [CAST]), {"n_draws": N_DRAWS, "workers": 1}
    out = plan.parent / "out"
    yield from _told("check", check(inputs))
    advice = undated(inputs, **options).dated([CAST])
    yield from _told("recommend", advice)
    yield from _read(advice.write(out))
    yield from _told("score", score(inputs, advice.recommendation.recommended.schedule, **options))
    for name, ask in (("price", price), ("minimum", minimum)):
        try:
            answer: Answer[Any] = ask(inputs, **options)
        except InputError as error:  # of published growth nothing is priced
            yield f"{name}, refused", _tidy(str(error))
            continue
        yield from _told(name, answer)
        yield from _read(answer.write(out))
    yield from _told("sweep", sweep(plan, **options))
    if scenario is not None:
        yield from _after_casting(plan, scenario, out, geometry=advice.recommendation.valid_for.geometry)


def _after_casting(plan: Path, scenario: Scenario, out: Path, *, geometry: str) -> Iterator[tuple[str, str]]:
    """A trial batch and pours of the same law, in the geometry that is recommended."""
    others = SLEEPER_GEOMETRIES if scenario is SLEEPERS else ()
    n_batches = max((3, *(max(other.batches) + 1 for other in others)))  # those that the other geometries name
    drawn = draw_records(scenario, SEED, n_batches)
    batches = sorted({row.batch for row in drawn.breaks})
    names = dict(zip(batches, ("trial-1", *(f"P{place}" for place in range(1, n_batches))), strict=True))
    rows = (*drawn.breaks, *other_rows(drawn, others))
    breaks = [row._replace(batch=names[row.batch]) for row in rows if row.geometry == geometry]
    readings = [row._replace(batch=names[row.batch]) for row in drawn.readings]
    folder = plan.parent
    write_readings(folder / "later.csv", readings)
    write_breaks(folder / "trial.csv", [row for row in breaks if row.batch == "trial-1"])
    options = {"cast": CAST, "n_draws": N_DRAWS, "workers": 1}
    issued = issue_curve(plan, folder / "trial.csv", temperatures=folder / "later.csv", **options)
    yield from _told("curve", issued)
    yield from _read(issued.write(out))
    curve = out / "curve.json"
    write_breaks(folder / "checks.csv", [row for row in breaks if row.batch != "trial-1" and row.curing == "site"])
    judged = site_checks(plan, curve, folder / "checks.csv", temperatures=folder / "later.csv")
    yield from _told("site checks", judged)
    yield from _read(judged.write(out))
    settings = load_plan(plan).settings
    if settings.pours is None or issued.curve.pour_model is None:
        return
    early = settings.pours.early_ages_h[0]
    write_breaks(
        folder / "pour.csv",
        [row for row in breaks if row.batch == "P1" and row.curing == "standard" and row.age_h == early],
    )
    kept = [row for row in readings if row.batch == "P1" and row.placement in ("", scenario.exposures[1][0])]
    write_readings(folder / "of-pour.csv", kept)
    answer = read_pour(plan, curve, folder / "pour.csv", temperatures=folder / "of-pour.csv")
    yield from _told("pour", answer)
    yield from _read(answer.write(out))


def _told(name: str, answer: Any) -> Iterator[tuple[str, str]]:
    """The screens of an answer: the first and the whole one."""
    yield f"{name}, whole", _tidy(plain_sections(answer.account(is_full=True), width=400))
    yield f"{name}, first screen", _tidy(plain_sections(answer.account(is_full=False), width=400))


def _read(files: tuple[Path, ...]) -> Iterator[tuple[str, str]]:
    for path in files:
        reader = READERS.get(path.suffix)
        if reader is not None:
            yield path.name, _tidy(reader(path.read_bytes()))


def _of_page(content: bytes) -> str:
    text = re.sub(r"<(style|script).*?</\1>", " ", content.decode("utf-8"), flags=re.DOTALL)
    said = re.findall(r'(?:aria-label|alt|title)="([^"]*)"', text)
    return html.unescape(" . ".join((re.sub(r"<[^>]+>", " ", text), *said)))


def _of_workbook(content: bytes) -> str:
    book = load_workbook(io.BytesIO(content))
    cells = (cell for sheet in book for row in sheet.iter_rows() for cell in row)
    texts = [text for cell in cells for text in (cell.value, cell.comment and cell.comment.text) if text]
    return " . ".join((*book.sheetnames, *map(str, texts)))


def _of_letter(content: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        body = archive.read("word/document.xml").decode("utf-8")
    return html.unescape(re.sub(r"<[^>]+>", "", re.sub(r"</w:p>", " ", body)))


def _of_calendar(content: bytes) -> str:
    return content.decode("utf-8").replace("\r\n ", "").replace("\\n", " ").replace("\\", "")


READERS: dict[str, Callable[[bytes], str]] = {
    ".html": _of_page,
    ".xlsx": _of_workbook,
    ".docx": _of_letter,
    ".ics": _of_calendar,
}


def _tidy(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").split())
