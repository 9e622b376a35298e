"""Accounts in a notebook: every kind of block as its element, and user text inert."""

from __future__ import annotations

import pytest

from planner.report.text.blocks import AgeLine, AgePicture, Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.report.text.html_blocks import html_sections

LEFT, RIGHT = 'style="text-align: left"', 'style="text-align: right"'
TABLE = Table(
    columns=(Column(heading="choice"), Column(heading="RMS", is_number=True)),
    rows=(("4h\u00a0x3", "3.0 %"),),
    note="a < b",
)


@pytest.mark.parametrize(
    ("block", "wanted"),
    [
        (Paragraph("about 10 % off"), "<p>about 10&nbsp;% off</p>"),
        (Paragraph("read this", is_strong=True), "<p><strong>read this</strong></p>"),
        (Bullets(("one", "<two>")), "<ul><li>one</li><li>&lt;two&gt;</li></ul>"),
        (
            Facts((("Break", "4 h & 6 h"),)),
            f"<table><tbody><tr><th {LEFT}>Break</th><td {LEFT}>4&nbsp;h &amp; 6&nbsp;h</td></tr></tbody></table>",
        ),
        (
            TABLE,
            f"<table><thead><tr><th {LEFT}>choice</th><th {RIGHT}>RMS</th></tr></thead>"
            f"<tbody><tr><td {LEFT}>4h x3</td><td {RIGHT}>3.0&nbsp;%</td></tr></tbody>"
            "</table><p>a &lt; b</p>",
        ),
    ],
)
def test_a_block_is_its_element(block: Block, wanted: str) -> None:
    assert html_sections((Section("A & B", (block,)),)) == f"<div><h4>A &amp; B</h4>\n{wanted}</div>"


def test_a_picture_keeps_its_lines() -> None:
    picture = AgePicture(lines=(AgeLine(label="recommended", marks=((4.0, "o"), (24.0, "o"))),), ticks_h=(4.0, 24.0))
    shown = html_sections((Section("Ages", (picture,)),))
    assert shown.startswith("<div><h4>Ages</h4>\n<pre>")
    assert "recommended" in shown
    assert shown.count("\n") >= 2
