"""Whole commands in processes of their own, timed and weighed."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

# What the kernel calls the largest resident size of this process alone; other counters begin with the parent's.
PROGRAM = """
import atexit, sys
from pathlib import Path
from planner.cli.main import main
atexit.register(lambda: print("\\n" + Path("/proc/self/status").read_text(), file=sys.stderr))
main()
"""


def run(
    plan_file: Path, *options: str, command: str = "recommend", **environment: str
) -> tuple[float, float, dict[str, Any]]:
    """Seconds, peak memory [MB] and the document of one process."""
    started = time.perf_counter()
    asked = [sys.executable, "-c", PROGRAM, command, str(plan_file), "--json", *options]
    done = subprocess.run(asked, capture_output=True, text=True, check=True, env=os.environ | environment)
    seconds = time.perf_counter() - started
    (peak,) = re.findall(r"VmHWM:\s+(\d+) kB", done.stderr)
    return seconds, int(peak) / 1024, json.loads(done.stdout)
