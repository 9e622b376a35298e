"""The workbook of the advice, its first age broken, calculated and saved by LibreOffice: what to break now.

Skipped only where LibreOffice is not installed.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from openpyxl import load_workbook

from planner.pipeline import recommend
from planner.read import load_later, load_plan
from planner.report.documents.workbook import render_workbook
from planner.terms.plan.settings import Plan
from planner.terms.results.after_casting.continuing import TrialAnswer
from planner.terms.results.recommended.recommendation import Recommendation
from tests.issued_curve.trial_files import PLAN

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
pytestmark = [
    pytest.mark.skipif(OFFICE is None, reason="no LibreOffice here"),
    pytest.mark.usefixtures("choosing_alone"),
]

LINES = {
    r"^fewest_ages.*$": "fewest_ages = 3",
    r"^most_ages.*$": "most_ages = 3",
    r"^specimens_per_age = \[2, 4\]$": "specimens_per_age = [2, 2]",
    r"^equivalent_age_q_k.*$": "equivalent_age_q_k = [5000]",
    r"^datum_c.*\n": "",
}
FACTORS = (0.97, 1.03)  # of the mean of the earlier batches, what the first specimens broke at


def plan_in(folder: Path) -> Path:
    for name in ("breaks.csv", "temperatures.csv"):
        shutil.copy(PLAN.parent / name, folder / name)
    text = PLAN.read_text(encoding="utf-8")
    for pattern, line in LINES.items():
        text = re.sub(pattern, line, text, flags=re.MULTILINE)
    (folder / "plan.toml").write_text(text + '\n[curves]\nfamilies = ["logarithmic"]\n', encoding="utf-8")
    return folder / "plan.toml"


def first_strengths(advice: Recommendation, plan: Plan) -> list[float]:
    """What the first specimens of the trial batch broke at."""
    age_h = advice.recommended.schedule.ages_h[0]
    known = [b.strength_mpa for b in plan.records.breaks if b.curing == "standard" and b.age_h == age_h]
    return [round(factor * sum(known) / len(known), 1) for factor in FACTORS]


def half_filled(advice: Recommendation, plan: Plan, folder: Path) -> Path:
    """Enter the strengths of the first age, and let LibreOffice calculate and save the workbook."""
    book = load_workbook(io.BytesIO(render_workbook(advice, plan.settings)))
    sheet = book["Specimens"]
    column = {str(cell.value): cell.column for cell in sheet[1]}
    strengths = iter(first_strengths(advice, plan))
    for row in range(2, sheet.max_row + 1):
        is_break = sheet.cell(row, column["purpose"]).value == "break"
        if is_break and float(str(sheet.cell(row, column["age, h"]).value)) == advice.recommended.schedule.ages_h[0]:
            sheet.cell(row, column["strength, MPa"]).value = next(strengths)
    assert next(strengths, None) is None
    entered = folder / "entered"
    entered.mkdir()
    book.save(entered / "workbook.xlsx")
    subprocess.run(
        [
            *(str(OFFICE), "--headless", f"-env:UserInstallation={(folder / 'profile').as_uri()}"),
            *("--convert-to", "xlsx", "--outdir", str(folder), str(entered / "workbook.xlsx")),
        ],
        check=True,
        capture_output=True,
        timeout=300,
    )
    return folder / "workbook.xlsx"


def as_table(advice: Recommendation, plan: Plan, folder: Path) -> Path:
    """The same breaks as a table."""
    path, rows = folder / "trial.csv", first_strengths(advice, plan)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["batch", "curing", "age_h", "strength_mpa"])
        writer.writerows(["trial-1", "standard", advice.recommended.schedule.ages_h[0], value] for value in rows)
    return path


def with_temperatures(folder: Path) -> Path:
    """Cured as the first of the earlier batches was."""
    head, *rows = (folder / "temperatures.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    path = folder / "trial-temperatures.csv"
    cured = [row.replace("R1,", "trial-1,", 1) for row in rows if row.startswith("R1,standard,")]
    path.write_text("".join([head, *cured]), encoding="utf-8")
    return path


def continued(plan_file: Path, plan: Plan, breaks: Path) -> TrialAnswer:
    given = load_later(plan_file, breaks, with_temperatures(plan_file.parent))
    found = recommend(plan, n_draws=5, workers=1, trial=given).trial
    assert found is not None
    return found


def test_what_remains_is_told_from_a_half_filled_workbook(tmp_path: Path) -> None:
    plan_file = plan_in(tmp_path)
    plan = load_plan(plan_file)
    advice = recommend(plan, n_draws=5, workers=1)
    book = continued(plan_file, plan, half_filled(advice, plan, tmp_path))
    table = continued(plan_file, plan, as_table(advice, plan, tmp_path))
    assert book.batch == "trial-1"
    assert book == table
    assert book.action in ("go on", "add", "move", "stop")
    assert [(cell.n_specimens, cell.mean_mpa) for cell in book.broken] == [
        (2, pytest.approx(sum(first_strengths(advice, plan)) / 2))
    ]
    assert book.action != "go on" or book.remaining is not None
