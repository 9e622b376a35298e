"""How long large files take to read. Opt-in: `pytest tests/speed`."""

from __future__ import annotations

import datetime as dt
import time
from pathlib import Path

import numpy as np
import pytest

from planner.read import load_plan

N_BATCHES = 10
PLAN = """
[prior]
breaks = "breaks.csv"
temperatures = "temperatures.csv"
{more}
[target]
ages = ["12 h"]
tolerance = "10 %"
[choices]
ages = ["12 h", "1 d", "3 d"]
fewest_ages = 2
most_ages = 3
specimens_per_age = [1, 3]
[budget]
specimens = 9
[laboratory]
time_zone = "Europe/Oslo"
"""


def write(folder: Path, n_readings: int, *, by_clock: bool) -> Path:
    """Ten batches with as many readings each, two minutes apart and less."""
    start = dt.datetime(2027, 6, 1, 8)
    lines = ["batch,curing,time,temperature_c" if by_clock else "batch,curing,elapsed_h,temperature_c"]
    per_batch = n_readings // N_BATCHES
    hours = np.linspace(0, 100, per_batch)
    temperatures = 20 + 10 * np.sin(hours / 20)
    for batch in range(N_BATCHES):
        for hour, temperature in zip(hours.tolist(), temperatures.tolist(), strict=True):
            moment = start + dt.timedelta(hours=hour)
            lines.append(f"B{batch},site,{moment if by_clock else hour},{temperature:.2f}")
    (folder / "temperatures.csv").write_text("\n".join(lines))
    breaks = [f"B{batch},site,{age},{20 + age / 5}" for batch in range(N_BATCHES) for age in (12, 24, 72)]
    (folder / "breaks.csv").write_text("\n".join(["batch,curing,age_h,strength_mpa", *breaks]))
    batches = [f"B{batch},{start},placed" for batch in range(N_BATCHES)]
    (folder / "batches.csv").write_text("\n".join(["batch,cast_at,age_zero", *batches]))
    path = folder / "plan.toml"
    path.write_text(PLAN.format(more='batches = "batches.csv"' if by_clock else ""))
    return path


@pytest.mark.parametrize("by_clock", [False, True], ids=["elapsed", "clock"])
def test_a_million_readings_within_five_seconds(tmp_path: Path, by_clock: bool) -> None:
    path = write(tmp_path, 1_000_000, by_clock=by_clock)
    began = time.process_time()  # of this process: other work on the machine does not count
    records = load_plan(path).records
    seconds = time.process_time() - began
    print(f"\n1,000,000 readings ({'clock' if by_clock else 'elapsed'}): {seconds:.2f} s")
    assert sum(record.elapsed_h.size for record in records.curing_records) == 1_000_000
    assert seconds < 5.0
