"""A state agency with 20,000 batches of 300 mixes, a plant with 3,000 of one.

Opt-in: `pytest tests/speed/test_scale.py -s`.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.speed.processes import run
from tests.speed.results_rows import renew

N_MIXES, N_BATCHES, N_SPECIMENS = 300, 20_000, 3
N_OF_ONE_MIX = 3_000
AGES_H = np.array([8.0, 12, 24, 48, 72, 168, 672])
SEED = 5
PLAN = """
[prior]
breaks = "breaks.csv"
standard_curing_c = 20
{hold_out}
[target]
ages = ["{target}"]
tolerance = "10 %"
[choices]
ages = ["8 h", "12 h", "1 d", "2 d", "3 d", "7 d", "28 d"]
fewest_ages = 3
most_ages = 6
specimens_per_age = [2, 3]
[budget]
specimens = 18
"""


def write_breaks(path: Path, n_batches: int, n_mixes: int) -> int:
    """Breaks of invented mixes that differ in strength and speed, batches about their mix; the number of rows."""
    rng = np.random.default_rng(SEED)
    mix = rng.integers(n_mixes, size=n_batches)
    ultimate_mpa = (rng.uniform(35, 70, n_mixes)[mix] * np.exp(0.06 * rng.standard_normal(n_batches)))[:, None, None]
    tau_h = (rng.uniform(10, 25, n_mixes)[mix] * np.exp(0.08 * rng.standard_normal(n_batches)))[:, None, None]
    fast, slow = (np.exp(-((factor * tau_h / AGES_H[:, None]) ** power)) for factor, power in ((1.0, 1.3), (4.0, 0.6)))
    scatter = 1.0 + 0.04 * rng.standard_normal((n_batches, len(AGES_H), N_SPECIMENS))
    strength_mpa = ultimate_mpa * (0.6 * fast + 0.4 * slow) * scatter
    with path.open("w", encoding="utf-8") as stream:
        stream.write("mix,batch,specimen,curing,age_h,strength_mpa\n")
        for batch in range(n_batches):
            for age, strengths in zip(AGES_H.tolist(), strength_mpa[batch].tolist(), strict=True):
                for place, strength in enumerate(strengths):
                    stream.write(f"M{mix[batch]},B{batch},B{batch}-{age:g}-{place},standard,{age:g},{strength:.1f}\n")
    return strength_mpa.size


def write_plan(folder: Path, target: str, hold_out: str = "") -> Path:
    (folder / "plan.toml").write_text(PLAN.format(target=target, hold_out=hold_out), encoding="utf-8")
    return folder / "plan.toml"


@pytest.mark.parametrize("target", ["12 h", "16 h"])  # an age that was broken, and one that was not
def test_a_state_agency(target: str, tmp_path: Path) -> None:
    n_breaks = write_breaks(tmp_path / "breaks.csv", N_BATCHES, N_MIXES)
    plan = write_plan(tmp_path, target, 'hold_out = "mix"')
    seconds, peak, document = run(plan, "--out", str(tmp_path / "answer"))
    search = document["search"]
    print(f"\n{N_BATCHES:,} batches of {N_MIXES} mixes, {n_breaks:,} breaks, target {target}, all files written:")
    print(
        f"  {search['n_choices']:,} schedules, {search['n_joint_choices']:,} joint choices: "
        f"{seconds:.0f} s, {peak:,.0f} MB"
    )
    assert document["recommended"]["ages_h"]


def test_a_plant_with_one_mix(tmp_path: Path) -> None:
    n_breaks = write_breaks(tmp_path / "breaks.csv", N_OF_ONE_MIX, 1)
    seconds, peak, document = run(write_plan(tmp_path, "12 h"), "--out", str(tmp_path / "answer"))
    what = f"{N_OF_ONE_MIX:,} batches of one mix, {n_breaks:,} breaks, {document['search']['n_choices']:,} schedules"
    print(f"\n{what}, all files written: {seconds:.0f} s, {peak:,.0f} MB")
    renew(f"{what}, all files written", seconds, peak)
    assert document["recommended"]["ages_h"]
    assert peak < 1000
