"""What the reader must know before using the answer: a code, the figure, what to do; the gravest first."""

from __future__ import annotations

from planner.terms.problems import Caution
from planner.verdict.wording.cautions.answer_cautions import answer_cautions
from planner.verdict.wording.cautions.caution_ranks import ranked
from planner.verdict.wording.cautions.circumstances import Circumstances
from planner.verdict.wording.cautions.geometry_cautions import geometry_cautions
from planner.verdict.wording.cautions.heat_cautions import heat_cautions
from planner.verdict.wording.cautions.machine_cautions import machine_cautions
from planner.verdict.wording.cautions.record_cautions import record_cautions
from planner.verdict.wording.cautions.temperature_cautions import temperature_cautions

STANDING = (
    "Maturity does not notice wrong, watered or frozen concrete: before a critical operation confirm by "
    "another test that the concrete delivered is the concrete calibrated.",
    "Temperature sensors go where the concrete is coldest, thinnest and placed last, two or more to a pour; a "
    "warmer place reads more strength than the coldest corner has.",
    "Local codes, the project specification and the responsible engineer decide; this is advice on a test "
    "programme, not a permission to strip, load, de-tension or open.",
)


def cautions(about: Circumstances) -> tuple[Caution, ...]:
    """List every caution that applies, each once, the gravest first."""
    found = [
        *answer_cautions(about),
        *record_cautions(about),
        *temperature_cautions(about),
        *heat_cautions(about),
        *machine_cautions(about),
        *geometry_cautions(about),
    ]
    return ranked([*about.basis.cautions, *found, *about.cells.cautions, *about.records.cautions])
