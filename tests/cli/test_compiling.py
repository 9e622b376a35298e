"""Loops compiled beside: those that a search then wants, and no others."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from planner.cli import compiling
from planner.cli.start import STARTER

PROGRAM = f"""
from pathlib import Path
from planner.cli.compiling import compile_late_loops
compile_late_loops()
from planner.pipeline import recommend
from planner.read import load_plan
from planner.resampling import closed, dominance, loops, nearness
from planner.verdict import batch_bootstrap
recommend(load_plan(Path({str(STARTER / "plan.toml")!r})), n_draws=10, workers=1)
rule = batch_bootstrap._compiled(batch_bootstrap._best_and_cheapest_tied)
kernels = [nearness.promising, nearness.losses_at, nearness.near_rows, dominance._undominated, loops.resample_views,
           closed.describe_choices, rule]
print(*(f"{{kernel.py_func.__name__}}:{{len(kernel.signatures)}}" for kernel in kernels))
"""


def test_a_search_wants_just_the_types_that_are_compiled_beside() -> None:
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    told = dict(pair.split(":") for pair in done.stdout.split())
    assert len(told) == 7
    assert set(told.values()) == {"1"}, told


@pytest.mark.parametrize("is_compiled", [True, False])
def test_another_process_works_only_where_nothing_is_compiled(
    is_compiled: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[list[str]] = []
    real = subprocess.Popen

    def started(command: list[str], **options: int) -> subprocess.Popen[bytes]:
        begun.append(command)
        return real([sys.executable, "-c", "import time; time.sleep(60)"], **options)

    monkeypatch.setattr(subprocess, "Popen", started)
    monkeypatch.setattr(compiling, "_is_compiled", lambda: is_compiled)
    with compiling.compiled_beside():
        pass  # what is still at work is ended with the block
    assert len(begun) == (0 if is_compiled else 1)


def test_where_no_process_can_be_started_the_work_goes_on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(compiling, "_is_compiled", lambda: False)
    monkeypatch.setattr(sys, "executable", str(tmp_path / "nothing"))
    with compiling.compiled_beside():
        reached = True
    assert reached
