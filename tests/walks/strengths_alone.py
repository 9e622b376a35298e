"""A plan that waits for strengths alone, and the files that each command wants after casting."""

from __future__ import annotations

from pathlib import Path

from tests.oracle.plain.candidates import Limits
from tests.oracle.small_plans import AGES_H, Asked, invent, write_plan

STRENGTHS_MPA = (15.0, 25.0)
ASKED = Asked(
    Limits(AGES_H, 3, 3, (2, 3), 9, shares=(0.5, 0.5)), (13.0, 24.0), q_k=(5000.0,), curves=("logarithmic",),
    strengths_mpa=STRENGTHS_MPA,
)  # fmt: skip
MORE = """
[site]
mean_concrete_temperature_c = [8, 32]
[programme]
instrumented = 2
companions_per_check = 2
checks = 5
[pours]
early_ages = ["6 h"]
specimens_per_age = [1, 2]
number = 20
[costs]
currency = "EUR"
specimen = 18
break = 25
visit = 90
fixed = 400
[laboratory]
open = "07:00-17:00"
days = "Mon-Fri"
time_zone = "Europe/Oslo"
minutes_per_break = 4
machines = 2
"""
OWN_HEAT_K = {0: 6.5, 2: 5.1, 5: 3.5, 10: 1.9, 30: 0.2, 200: 0.0}
CAST = "2027-03-01 07:30"


def write_study(folder: Path, *, units: str = "SI") -> Path:
    """The plan with its tables, and with a trial batch, early breaks of a pour and site checks beside them."""
    folder.mkdir(parents=True, exist_ok=True)
    invent(folder, seed=8, n_batches=6, target_h=12.0, n_each=3)
    path = write_plan(folder, ASKED, more=f'{MORE}[output]\nunits = "{units}"\n')
    head = "batch,mix,curing,age_h,strength_mpa,placement\n"
    grown = {6.0: 6.9, 12.0: 14.6, 24.0: 22.9, 72.0: 32.4, 168.0: 37.2}
    trial = [
        f"T1,M1,standard,{age:g},{mpa * (1.0 + 0.02 * (number - 1)):.2f},"
        for age, mpa in grown.items()
        for number in range(3)
    ]
    site = [f"T1,M1,site,{age:g},{mpa:.2f},deck" for age, mpa in ((13.0, 15.1), (24.0, 22.4)) for _ in range(2)]
    (folder / "trial.csv").write_text(head + "\n".join([*trial, *site]) + "\n")
    (folder / "begun.csv").write_text(head + "\n".join(trial[:3]) + "\n")
    (folder / "pour.csv").write_text(head + "P1,M1,standard,6,7.1,\nP1,M1,standard,6,6.8,\n")
    checks = [f"P{n},M1,site,14,{15.6 + 0.4 * n:.2f},deck" for n in (1, 1, 2, 2, 3, 3)]
    (folder / "checks.csv").write_text(head + "\n".join(checks) + "\n")
    readings = ["batch,curing,placement,elapsed_h,temperature_c"]
    for batch in ("T1", "P1", "P2", "P3"):
        for curing, room in (("standard,", 20.0), ("site,deck", 21.0)):
            readings += [f"{batch},{curing},{hour},{room + warmer}" for hour, warmer in OWN_HEAT_K.items()]
    (folder / "later.csv").write_text("\n".join(readings) + "\n")
    so_far = [line for line in readings[1:] if ",site," in line or float(line.split(",")[3]) <= 10.0]  # 6 h are broken
    (folder / "so_far.csv").write_text("\n".join([readings[0], *so_far]) + "\n")
    return path
