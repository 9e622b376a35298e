"""The first run of an installation compiles the loops; a second core takes the half that is needed late.

Compiled code is kept on disk, so a process beside this one can make it: it calls each loop once on arrays of one
entry. Where the loops are compiled already, nothing is started; where it cannot be started, this process compiles
all of them itself.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def compiled_beside() -> Iterator[None]:
    """Have the loops that come late compiled by another process while the block runs."""
    process = None if _is_compiled() else _started()
    try:
        yield
    finally:
        if process is not None:
            process.terminate()
            process.wait()


def _is_compiled() -> bool:
    """Whether the loop that takes longest stands on disk."""
    from ..resampling.loops import sweep_joints

    folder = sweep_joints.stats.cache_path  # None where nothing can be kept: nothing made beside would be found
    return folder is None or any(Path(folder).glob(f"loops.{sweep_joints.py_func.__name__}-*.nbi"))


def _started() -> subprocess.Popen[bytes] | None:
    with suppress(OSError):
        return subprocess.Popen(
            [sys.executable, "-m", __name__],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    return None


def compile_late_loops() -> None:
    """Compile what the search needs after its first fits, in the order in which it is wanted."""
    import numpy as np

    from ..fitting.sweep import CURVE_CODES
    from ..resampling.closed import describe_choices
    from ..resampling.dominance import undominated
    from ..resampling.loops import resample_views
    from ..resampling.nearness import losses_at, near_rows, promising
    from ..verdict.batch_bootstrap import apply_rule

    one, plane, solid, body = np.ones(1), np.ones((1, 1)), np.ones((1, 1, 1)), np.ones((1, 1, 1, 1))
    first, true = np.zeros(1, dtype=np.int64), np.ones(1, dtype=bool)
    patterns = np.ones((1, 1), dtype=np.int16)
    linear = (solid, body, first, first + 1, patterns, 2.0)
    limits = np.ones((2, 2))
    promising(
        *linear, first + 1, limits, np.ones(2), true, 1.0, one.copy(), np.zeros(1, dtype=np.int16),
        np.zeros((1, 1), dtype=bool),
    )  # fmt: skip
    losses_at(*linear, first, first, plane.copy())
    near_rows(plane, first + 1, limits.copy(), np.zeros(2), 1.21, true, 1.0, true.copy(), true.copy())
    undominated(plane)
    single = plane.astype(np.float32)
    apply_rule(plane, single, plane > 2.0, first, np.ones((1, 1), dtype=np.int64), level=single)
    members = np.array([0, 1], dtype=np.int16)
    ages_h = np.array([[1.0, 2.0]])
    resample_views(
        CURVE_CODES["logarithmic"], members, ages_h, ages_h, False, np.zeros((1, 1, 2)), np.array([0, 1]), one, one,
        plane.copy(),
    )  # fmt: skip
    describe_choices(first, patterns, plane, solid, plane, one, 0.0 * one, 0.1, np.empty((1, 6)))


if __name__ == "__main__":
    compile_late_loops()
