"""Loops compiled beside: those that a search then wants, and no others."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from planner.questions import first_compile as compiling
from planner.starter import STARTER

SLEEP = "import time; time.sleep(60)"
PROGRAM = f"""
from pathlib import Path
from planner.questions.first_compile import HALVES, _is_compiled
for compile_half in HALVES.values():
    compile_half()
from planner.pipeline import recommend
from planner.read import load_plan
from planner.mixed_model import restricted_likelihood
from planner.resampling.errors import closed_form, kernels
from planner.resampling.errors.later_pours import judged_kernel
from planner.resampling.search import dominance, pruning
from planner.verdict.selection import tie_rule
from planner.verdict.selection.programmes import price_fronts
assert _is_compiled()
recommend(load_plan(Path({str(STARTER / "plan.toml")!r})), n_draws=10, workers=1)
rule = tie_rule._compiled(tie_rule._best_and_cheapest_tied)
compiled = [kernels.sweep_joints, kernels.resample_views, pruning.promising, pruning.losses_at, pruning.near_rows,
           dominance._undominated, closed_form.describe_choices, rule,
           judged_kernel.judge_rows, price_fronts.thin, restricted_likelihood.penalised_minimum]
print(*(f"{{kernel.py_func.__name__}}:{{len(kernel.signatures)}}" for kernel in compiled))
"""


def test_a_search_wants_just_the_types_that_are_compiled_beside() -> None:
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    found = dict(pair.split(":") for pair in done.stdout.split())
    assert len(found) == 11
    assert set(found.values()) == {"1"}, found


def quiet(_done: int, _total: int, _what: str) -> None:
    """No progress is shown."""


@pytest.mark.parametrize("is_compiled", [True, False])
def test_other_processes_work_only_where_nothing_is_compiled(
    is_compiled: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[str] = []
    texts: list[str] = []
    real = subprocess.Popen

    def started(command: list[str], **options: int) -> subprocess.Popen[bytes]:
        begun.append(command[-1])
        return real([sys.executable, "-c", ""], **options)

    monkeypatch.setattr(subprocess, "Popen", started)
    monkeypatch.setattr(compiling, "_is_compiled", lambda: is_compiled)
    compiling.compile_first(lambda _done, _total, what: texts.append(what))
    assert begun == ([] if is_compiled else list(compiling.HALVES))
    assert texts == ([] if is_compiled else [compiling.WHAT])


def test_whoever_is_interrupted_leaves_no_process_at_work(monkeypatch: pytest.MonkeyPatch) -> None:
    waited: list[subprocess.Popen[bytes]] = []
    real = subprocess.Popen

    class Interrupted(real):  # type: ignore[misc,valid-type]
        def wait(self, timeout: float | None = None) -> int:
            waited.append(self)
            if len(waited) == 1:
                raise KeyboardInterrupt
            return int(super().wait(timeout))

    monkeypatch.setattr(
        subprocess, "Popen", lambda _command, **options: Interrupted([sys.executable, "-c", SLEEP], **options)
    )
    monkeypatch.setattr(compiling, "_is_compiled", lambda: False)
    with pytest.raises(KeyboardInterrupt):
        compiling.compile_first(quiet)
    assert len(set(waited)) == len(compiling.HALVES)
    assert all(process.poll() is not None for process in waited)


def test_where_no_process_can_be_started_this_one_compiles(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(compiling, "_is_compiled", lambda: False)
    monkeypatch.setattr(sys, "executable", str(tmp_path / "nothing"))
    assert [compiling._started(half) for half in compiling.HALVES] == [None, None]
    compiling.compile_first(quiet)  # raises nothing: the loops are compiled where they are first called
