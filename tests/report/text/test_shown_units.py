"""US units: factors by hand, every kind of sentence and cell, and whole answers searched for what is left of SI."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest
from openpyxl import load_workbook

from planner.questions.recommending import Advice
from planner.report.documents.shown_page import page_shown
from planner.report.documents.workbook import render_workbook
from planner.report.figures.drawing.plot import Line, Plot
from planner.report.figures.drawing.shown_plot import plot_shown
from planner.report.figures.drawing.ticks import age_axis, linear_axis
from planner.report.text.blocks import Column, Section, Table
from planner.report.text.curve_words import reckoning_words
from planner.report.text.plain_blocks import plain_sections
from planner.report.text.shown_blocks import sections_shown
from planner.report.text.shown_units import column_in, in_words, shown_in
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import OutputUnits
from planner.terms.plan.shown_as import ShownAs, shown_as
from tests.report.real_results import made_from

US = ShownAs(units="US")
PSI_PER_MPA = 145.0377  # lbf 4.448222 N, in 25.4 mm (definitions)
SI_LEFT = re.compile(r"MPa|°C|(?<!\w)mm\b|\bkN\b|kg/m3|\d C\b|, C\b|\bC h\b|\d L\b")


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("1 d (53 MPa)", "1 d (7,690 psi)"),  # 53 x 145.0377 = 7687.0
        ("12.0 MPa for 10.0 MPa and 24.0 MPa", "1,740 psi for 1,450 psi and 3,480 psi"),
        ("reads 13 to 46 MPa (mean 27 MPa)", "reads 1,890 to 6,670 psi (mean 3,920 psi)"),
        ("10, 20 and 30 MPa", "1,450, 2,900 and 4,350 psi"),
        ("every break counts by its error in MPa", "every break counts by its error in psi"),
        ("datum of -10 C", "datum of 14 F"),
        ("at 4 and 20 C; 12 to 35 C", "at 39 and 68 F; 54 to 95 F"),
        ("mean of 23.0 C after", "mean of 73.4 F after"),
        ("24 kN (3.0 MPa)", "5,400 lbf (440 psi)"),  # 24000 / 4.448222 = 5395
        ("21 L of concrete", "0.74 ft3 of concrete"),  # 21 x 0.0353147
        ("the precision of 100x200 mm cylinders", "the precision of 4x8 in cylinders"),
        ("cylinder 75x150 mm", "cylinder 3x6 in"),
        ("cylinder 75x150\u00a0mm", "cylinder 3x6\u00a0in"),
        ("cube 50 mm", "cube 2 in"),
        ("M = sum of (T - (-10)) dt in C h; datum temperature -10 C.",
         "M = sum of (T - (14)) dt in F h; datum temperature 14 F."),
        ("1,234 C h", "2,221 F h"),
        ("2 K are 12 % of maturity at Q 5000 K", "4 F are 12 % of maturity at Q 5000 K"),
        # what is no quantity stays
        ("ASTM C39, ASTM C1074 and C30/37; EN 206 C30", "ASTM C39, ASTM C1074 and C30/37; EN 206 C30"),
        ("batch S1 C, 3 C39", "batch S1 C, 3 C39"),
        ("6 h x3, 1 d x3 in 90 % of batches", "6 h x3, 1 d x3 in 90 % of batches"),
    ],
)  # fmt: skip
def test_quantities_in_sentences(given: str, shown: str) -> None:
    assert in_words(given) == given, "SI is what everything is worded in"
    with shown_in(US):
        assert in_words(given) == shown
        assert in_words(shown) == shown, "turned once and for all"
    assert in_words(given) == given


@pytest.mark.parametrize(
    ("heading", "shown", "cell", "cell_shown"),
    [
        ("strength read, MPa", "strength read, psi", "20.8", "3,020"),
        ("safe reading, MPa", "safe reading, psi", "20.8", "3,010"),  # 3016.8: a safe strength is rounded down
        ("mean, C", "mean, F", "-5.0", "23.0"),
        ("load, kN", "load, lbf", "100", "22,500"),
        ("MPa", "psi", "19 to 30", "2,760 to 4,350"),
        ("cube 150 mm as broken, mean at 20 h, MPa", "cube 6 in as broken, mean at 20 h, psi", "10.0", "1,450"),
        ("temperature-time factor, C h", "temperature-time factor, F h", "100", "180"),
        ("specimens", "specimens", "3", "3"),
        ("age, h", "age, h", "24", "24"),
        ("read, MPa", "read, psi", "-", "-"),
    ],
)
def test_columns(heading: str, shown: str, cell: str, cell_shown: str) -> None:
    with shown_in(US):
        assert (column_in(heading)[0], column_in(heading)[1](cell)) == (shown, cell_shown)
    assert (column_in(heading)[0], column_in(heading)[1](cell)) == (heading, cell)


def test_a_table_is_turned_column_by_column_in_blocks_and_on_pages() -> None:
    table = Table(
        columns=(Column(heading="pour"), Column(heading="read, MPa"), Column(heading="C")),
        rows=(("P1", "10.0", "20"), ("P2", "20.0", "-")),
        note="20 MPa",
    )
    page = (
        "<table><thead><tr><th></th><th>read, MPa</th><th>C</th></tr></thead><tbody>"
        '<tr><th scope="row">10</th><td><bdi>10.0</bdi></td><td>20</td></tr></tbody></table>'
        '<p aria-label="20 MPa">5 &lt; 20 MPa</p><script>var a = "20 MPa";</script>'
    )
    with shown_in(US):
        (section,) = sections_shown([Section("At 20 C", (table,))])
        turned = page_shown(page)
    (shown,) = section.blocks
    assert isinstance(shown, Table)
    assert [column.heading for column in shown.columns] == ["pour", "read, psi", "F"]
    assert (shown.rows, shown.note, section.heading) == (
        (("P1", "1,450", "68"), ("P2", "2,900", "-")),
        "2,900 psi",
        "At 68 F",
    )
    assert turned == (
        "<table><thead><tr><th></th><th>read, psi</th><th>F</th></tr></thead><tbody>"
        '<tr><th scope="row">10</th><td><bdi>1,450</bdi></td><td>68</td></tr></tbody></table>'
        '<p aria-label="2,900 psi">5 &lt; 2,900 psi</p><script>var a = "20 MPa";</script>'
    )
    assert page_shown(page) == page


def test_pictures_move_with_their_axis() -> None:
    plot = Plot(
        name="p", title="at 20 C", description="up to 40 MPa", across=age_axis([6.0, 24.0]),
        up=linear_axis("strength, MPa", 40.0), layers=(Line(points=((6.0, 10.0), (24.0, 40.0))),),
    )  # fmt: skip
    with shown_in(US):
        shown = plot_shown(plot)
    (line,) = shown.layers
    assert isinstance(line, Line)
    assert [y for _, y in line.points] == pytest.approx([10 * PSI_PER_MPA, 40 * PSI_PER_MPA], rel=1e-6)
    assert [x for x, _ in line.points] == [6.0, 24.0]
    assert shown.up.title == "strength, psi"
    assert shown.up.high >= 40 * PSI_PER_MPA
    assert all(float(name) == pytest.approx(at) for at, name in shown.up.ticks)
    assert (shown.description, shown.across) == ("up to 5,800 psi", plot.across)
    assert plot_shown(plot) is plot


@cache
def advice_in(units: OutputUnits) -> Advice:
    made = made_from(4, has_prices=True)
    settings = replace(made.settings, output_units=units)
    return Advice(made.told, settings, shown=shown_as(settings))


def page_text(page: str) -> str:
    page = re.sub(r"<(script|style).*?</\1>", "", page, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]*>", "\n", page))


def written(advice: Advice, folder: object) -> dict[str, str]:
    """Every text output: screens, pages, sheets, calendar."""
    from pathlib import Path

    out = Path(str(folder))
    dated = advice.dated(["2027-03-01 22:00"])
    dated.write(out)
    texts = {path.name: page_text(path.read_text(encoding="utf-8")) for path in out.glob("*.html")}
    texts["calendar"] = (out / "breaks.ics").read_text(encoding="utf-8")
    book = load_workbook(out / "workbook.xlsx")
    for sheet in book.worksheets:
        cells = [cell.value for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]
        texts[sheet.title] = "\n".join(cells)
    texts["screen"] = plain_sections(dated.account(is_full=False))
    texts["full"] = plain_sections(dated.account())
    return texts


def test_no_text_of_a_plan_in_us_units_holds_si(tmp_path_factory: pytest.TempPathFactory) -> None:
    geometry = advice_in("US").recommendation.valid_for.geometry
    for name, text in written(advice_in("US"), tmp_path_factory.mktemp("us")).items():
        found = SI_LEFT.search(text.replace(geometry, "")) if name != "Breaks" else None
        assert found is None, (name, text[max(found.start() - 60, 0) : found.end() + 20])
    told_si = written(advice_in("SI"), tmp_path_factory.mktemp("si"))
    assert "psi" not in "".join(told_si.values())
    assert SI_LEFT.search(told_si["full"]) is not None


def test_figures_turned_back_are_those_in_si() -> None:
    si, us = (plain_sections(advice_in(units).account()) for units in ("SI", "US"))

    def found(text: str, unit: str) -> list[tuple[float, int]]:
        joined = " ".join(text.split())
        numbers = re.findall(rf"(-?\d[\d,]*(?:\.\d+)?) {unit}(?![A-Za-z0-9/])", joined)
        return [(float(one.replace(",", "")), len(one.partition(".")[2])) for one in numbers]

    pairs: tuple[tuple[str, str, Callable[[float], float], float], ...] = (
        ("MPa", "psi", lambda psi: psi / PSI_PER_MPA, 5.0 / PSI_PER_MPA),
        ("C", "F", lambda f: (f - 32.0) / 1.8, 0.5 / 1.8),
    )
    for unit_si, unit_us, back, rounding in pairs:
        given, shown = found(si, unit_si), found(us, unit_us)
        assert len(given) == len(shown) > 0
        for (value, places), (turned, _) in zip(given, shown, strict=True):
            assert back(turned) == pytest.approx(
                value, abs=rounding * 10.0**-places if unit_si == "C" else rounding + 1e-6
            )


def test_documents_stay_si(tmp_path_factory: pytest.TempPathFactory) -> None:
    assert advice_in("US").json() == advice_in("SI").json()
    folders = {units: tmp_path_factory.mktemp(units) for units in ("SI", "US")}
    for units in ("SI", "US"):
        advice_in(units).write(folders[units])  # type: ignore[arg-type]
    for name in ("recommendation.json", "choices.csv"):
        assert (folders["SI"] / name).read_bytes() == (folders["US"] / name).read_bytes()


def test_the_register_in_us_units_reads_back_as_the_same_strength() -> None:
    made = made_from(4)
    with shown_in(US):
        book = load_workbook(io.BytesIO(render_workbook(made.told, made.settings)))
    register, breaks = book["Specimens"], book["Breaks"]
    headings = [cell.value for cell in register[1]]
    for heading in ("load, lbf", "strength, psi", "strength used, psi", "measured diameter or side, in", "mass, lb"):
        assert heading in headings
    assert "strength_psi" in [cell.value for cell in breaks[1]]
    formula = str(register["R2"].value)
    area_in2 = float(re.findall(r",(\d+\.\d+)\)", formula)[0])
    # 150x300 mm: pi / 4 x 5.9055 in squared; 60,000 lbf on it are 2190.5 psi, 266.9 kN on 17,671 mm2 15.10 MPa
    assert area_in2 == pytest.approx(27.391, abs=0.001)
    assert 60_000 / area_in2 / PSI_PER_MPA == pytest.approx(60_000 * 4.448222 / 17_671.46, rel=1e-4)
    assert "ROUND(L2*1/(" in formula, "lbf and square inches give psi as they are"
    assert "*1728/" in str(register["AA2"].value), "cubic inches of a cubic foot"
    assert book["Temperatures"]["D1"].value == "temperature_f"


def test_user_text_stays_text_in_us_units() -> None:
    made = made_from(4)
    found = replace(made.told, title="=1+20 MPa", valid_for=replace(made.told.valid_for, mix="=30 MPa mix"))
    with shown_in(US):
        book = load_workbook(io.BytesIO(render_workbook(found, made.settings)))
    assert not [
        cell.coordinate
        for sheet in (book["Summary"], book["Specimens"])
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f" and re.search("psi|MPa", str(cell.value))
    ]
    assert book["Specimens"]["C2"].value == "=30 MPa mix", "what is read back keeps its name"


@pytest.mark.parametrize(
    ("setting", "parts"),
    [
        # Q: the formula wants degrees Celsius whatever the thermometer shows
        (MaturitySetting("equivalent age", 5000.0, 20.0), ("reference 68 F", "the F reading less 32, divided by 1.8")),
        # datum -10 C is 14 F; 30 degrees C above it are 54 degrees F, an hour at 68 F counts 54 F h
        (MaturitySetting("temperature-time", -10.0, 20.0), ("T - (14)) dt in F h", "t = M / 54 (hours at 68 F)")),
    ],
)
def test_maturity_reckoned_in_us_units_is_the_same_maturity(setting: MaturitySetting, parts: tuple[str, ...]) -> None:
    with shown_in(US):
        text = in_words(" ".join(reckoning_words(setting)))
    for part in parts:
        assert part in text
    assert "Celsius" not in " ".join(reckoning_words(setting))


def test_the_readers_own_words_stay() -> None:
    own = ("30 MPa slab at 20 C", "20 MPa", "mix 12 mm 5 % air")
    with shown_in(ShownAs(units="US", own_words=own)):
        assert in_words("30 MPa slab at 20 C") == "30 MPa slab at 20 C"
        assert in_words("Of 30 MPa slab at 20 C, 30 MPa at 20 C") == "Of 30 MPa slab at 20 C, 4,350 psi at 68 F"
        assert in_words("mix 12 mm 5\xa0% air: 12 mm") == "mix 12 mm 5\xa0% air: 0.47 in"
        assert in_words("30 MPa sl…") == "30 MPa sl…", "a title cut short"
        assert in_words("20 MPa") == "20 MPa", "a name that is nothing but a quantity, in its cell"
        assert in_words("read at 20 MPa") == "read at 2,900 psi"
        assert page_shown("<h1><bdi>30 MPa slab at 20 C</bdi></h1>") == "<h1><bdi>30 MPa slab at 20 C</bdi></h1>"
    assert in_words("30 MPa slab at 20 C") == "30 MPa slab at 20 C"


def test_a_title_with_a_strength_stays_on_every_output(tmp_path_factory: pytest.TempPathFactory) -> None:
    title, mix = "30 MPa slab, 20 C & more", "C30 25 MPa at 1 d"
    made = made_from(4, has_prices=True)
    settings = replace(made.settings, output_units="US", title=title, mix_name=mix)
    found = replace(made.told, title=title, valid_for=replace(made.told.valid_for, mix=mix))
    texts = written(Advice(found, settings, shown=shown_as(settings)), tmp_path_factory.mktemp("own"))
    assert all("4,350 psi slab" not in text and "3,630 psi at 1 d" not in text for text in texts.values())
    for name in ("report.html", "testing-room.html", "Summary", "screen", "full"):
        assert title in texts[name].replace("\xa0", " "), name
    assert mix in " ".join(texts["full"].split())
    assert "psi" in texts["full"]
