"""From the advice to the printed sheet, as a laboratory goes: ``python -m tests.walks.trial_to_sheet [FOLDER]``.

The demo's plan is asked for its schedule with a casting time; a fresh batch of the same invented concrete, seeded, is
broken into the workbook that comes out; a spreadsheet program calculates it; ``curve`` issues the curve; Chromium
prints the sheet; site checks of fresh pours follow. Every step is a command as a user types it. What was made stays in
the folder for looking at. Needs LibreOffice and Chromium; exit code 1 where a step does not do what it should.
"""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from openpyxl import load_workbook

from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import FreshBatches, draw_batches

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "scenarios" / "runway-panels" / "plan.toml"
CAST = "2027-03-01 22:00"
SEED = 4
TRIAL = 0  # which of the fresh batches is the trial batch; the others are pours
N_POURS = 8
OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
REQUIRED_MPA = (12, 20)  # at 6 h and at 1 d
PLACE = "cool night"  # where the companions lie


def main(arguments: Sequence[str] | None = None) -> int:
    """Go the whole way and say what came of every step."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    folder = Path(given[0]).resolve() if given else Path(tempfile.mkdtemp(prefix="trial-to-sheet-"))
    folder.mkdir(parents=True, exist_ok=True)
    if OFFICE is None or BROWSER is None:
        print("LibreOffice and Chromium are needed for this walk.")
        return 1
    fresh = draw_batches(RUNWAY_PANELS, N_POURS + 1, SEED)
    run("recommend", PLAN, "--cast", CAST, "--out", folder / "advice")
    filled = fill(folder / "advice" / "workbook.xlsx", fresh, folder / "filled")
    run("curve", PLAN, "--trial", filled, "--cast", CAST, "--out", folder / "issued")
    sheet = print_sheet(folder / "issued" / "curve.html", folder / "issued" / "curve.pdf")
    checks, temperatures = write_checks(fresh, folder)
    curve = folder / "issued" / "curve.json"
    options = ("--curve", curve, "--site-checks", checks, "--temperatures", temperatures)
    run("curve", PLAN, *options, "--out", folder / "checked")
    return told(folder, n_pages=sheet)


def run(*arguments: object) -> None:
    """Run one command as a user does, and show what it says."""
    asked = [str(argument) for argument in arguments]
    print("$ test-ages", *asked, flush=True)
    subprocess.run([sys.executable, "-m", "planner.cli.main", *asked], check=True, cwd=ROOT)


def fill(workbook: Path, fresh: FreshBatches, folder: Path) -> Path:
    """Enter strengths and temperatures where the register and the temperature sheet ask for them, and calculate."""
    book = load_workbook(workbook)
    register = book["Specimens"]
    column = {str(cell.value): cell.column for cell in register[1]}
    used: dict[tuple[str, float], int] = {}
    for row in range(2, register.max_row + 1):
        purpose = str(register.cell(row, column["purpose"]).value)
        if purpose not in ("break", "site companion"):
            continue
        condition = "standard" if purpose == "break" else PLACE
        age_h = float(str(register.cell(row, column["age, h"]).value))
        number = used.get((condition, age_h), 0)
        used[condition, age_h] = number + 1
        strength = fresh.specimens_mpa(condition, [age_h], number + 1)[TRIAL, 0, number]
        register.cell(row, column["strength, MPa"]).value = round(float(strength), 1)
    readings = book["Temperatures"]
    row = 2
    for condition, curing in (("standard", "standard"), (PLACE, "site")):
        times_h, temperatures_c = fresh.readings_c(condition)
        for elapsed_h, temperature_c in zip(times_h, temperatures_c[TRIAL], strict=True):
            for place, value in enumerate(("trial-1", curing, float(elapsed_h), float(temperature_c)), start=1):
                readings.cell(row, place).value = value
            row += 1
    folder.mkdir(exist_ok=True)
    entered = folder / "entered"
    entered.mkdir(exist_ok=True)
    book.save(entered / "workbook.xlsx")
    print("$ (the workbook is filled, calculated and saved)", flush=True)
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


def print_sheet(page: Path, target: Path) -> int:
    """Print the sheet; the number of its pages."""
    print("$ (the sheet is printed)", flush=True)
    subprocess.run(
        [
            *(str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"),
            *(f"--print-to-pdf={target}", page.as_uri()),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    content = target.read_bytes()
    return content.count(b"/Type /Page\n") or content.count(b"/Type /Page ")


def write_checks(fresh: FreshBatches, folder: Path) -> tuple[Path, Path]:
    """Companions of every pour at both targets in one place, with their temperatures."""
    checks, temperatures = folder / "site-checks.csv", folder / "site-temperatures.csv"
    broken = fresh.specimens_mpa(PLACE, [6.0, 24.0], 3)
    times_h, temperatures_c = fresh.readings_c(PLACE)
    with checks.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(("batch", "curing", "age_h", "specimen", "strength_mpa", "required_mpa"))
        for pour in range(1, N_POURS + 1):
            for at, age_h in enumerate((6, 24)):
                for number in range(3):
                    strength = round(float(broken[pour, at, number]), 1)
                    writer.writerow(
                        (f"P{pour}", "site", age_h, f"{age_h}h-{number + 1}", strength, 12 if at == 0 else 20)
                    )
    with temperatures.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(("batch", "curing", "elapsed_h", "temperature_c"))
        for pour in range(1, N_POURS + 1):
            for elapsed_h, temperature_c in zip(times_h, temperatures_c[pour], strict=True):
                writer.writerow((f"P{pour}", "site", float(elapsed_h), float(temperature_c)))
    return checks, temperatures


def told(folder: Path, *, n_pages: int) -> int:
    """Compare what was issued with the hidden truth and with what the files must be; the exit code."""
    document = json.loads((folder / "issued" / "curve.json").read_text(encoding="utf-8"))
    judged = json.loads((folder / "checked" / "site-checks.json").read_text(encoding="utf-8"))
    fresh = draw_batches(RUNWAY_PANELS, N_POURS + 1, SEED)
    print()
    wrong = []
    for reading in document["readings"]:
        truth = fresh.true_strength("standard", [reading["age_h"]])[TRIAL, 0]
        ages = np.array([reading["age_h"]])
        warmer = fresh.equivalent_age_h("standard", ages)[TRIAL, 0] / reading["maturity"]
        print(
            f"{reading['age_h']:g} h: read {reading['strength_mpa']:.1f} MPa at {reading['maturity']:.1f} h, safe "
            f"{reading['safe_mpa']:.1f} MPa; the batch itself had {truth:.1f} MPa at {warmer:.2f} times that maturity"
        )
    print(f"verdict: {document['acceptance']['verdict']}, companions judged: {len(document['checks'])}")
    print(f"sheet: {n_pages} pages; site checks: {judged['n_pours']} pours, state {judged['state']}")
    if n_pages != 2:
        wrong.append(f"The sheet prints on {n_pages} pages, not 2.")
    if document["acceptance"]["verdict"] == "not judged":
        wrong.append("The companions of the workbook did not reach the curve.")
    if odd := {"ages-not-planned", "ages-missing"} & {caution["code"] for caution in document["cautions"]}:
        wrong.append(f"The schedule of the workbook is not the one that the curve was issued for: {sorted(odd)}.")
    if judged["n_pours"] != N_POURS:
        wrong.append(f"{judged['n_pours']} pours were judged, not {N_POURS}.")
    print("\n".join(wrong) or f"Everything is in {folder}.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
