"""A long run that feeds every reader with bytes steered towards lines of code not yet reached.

Opt-in, because it runs for as long as it is let and needs a compiler's fuzzing engine:

    pip install atheris
    python -m tests.faults.fuzz_readers breaks.csv -max_total_time=3600 corpus/

The first word names the file that is varied. Whatever stands in it, reading must end in a plan or in
problems that each name a file and say something, within seconds.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["planner"]):
    from planner.read import check_plan
    from planner.starter import STARTER

FILES = ("plan.toml", "breaks.csv", "temperatures.csv", "breaks.xlsx", "batches.csv")


def prepared(folder: Path, varied: str) -> Path:
    """The starter plan, made to name the file that is varied."""
    for path in STARTER.iterdir():
        if path.suffix in (".toml", ".csv"):
            (folder / path.name).write_bytes(path.read_bytes())
    plan = folder / "plan.toml"
    text = plan.read_text(encoding="utf-8")
    if varied == "breaks.xlsx":
        text = text.replace('"breaks.csv"', '"breaks.xlsx"')
    if varied == "batches.csv":
        text = text.replace("[prior]", '[prior]\nbatches = "batches.csv"', 1)
    plan.write_text(text, encoding="utf-8")
    return plan


def main() -> None:
    """Fuzz one reader; the engine's own options follow the file."""
    varied = sys.argv.pop(1) if len(sys.argv) > 1 else ""
    if varied not in FILES:
        sys.exit(f"Name the file to vary first: {', '.join(FILES)}.")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = prepared(folder, varied)

        def read(content: bytes) -> None:
            (folder / varied).write_bytes(content)
            found, problems = check_plan(plan)
            if (found is None) != bool(problems):
                raise AssertionError("neither a plan nor a problem, or both")
            for problem in problems:
                if not problem.file or len(problem.text) < 10:
                    raise AssertionError(f"says nothing: {problem!r}")

        atheris.Setup(sys.argv, read)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
