"""Finished rows of a sweep on disk, so that one that was stopped can go on."""

from __future__ import annotations

import hashlib
import json
import shutil
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path

from planner.questions.long_runs import say
from planner.resampling.search.kept_files import NOT_PRIVATE, is_private, make_private, write_whole
from planner.resampling.search.task import PACKAGE, program_mark
from planner.sweeping.sweep_rows import SweepRow
from planner.terms.exit_codes import DONE
from planner.terms.plan.settings import Plan


class KeptRows:
    """Finished rows on disk, each under the checksum of its inputs, settings and the program."""

    def __init__(self, folder: Path | None, *, is_continued: bool = False) -> None:
        self.folder = folder
        self._is_continued = is_continued
        if is_continued and folder is not None and not is_private(folder):
            self._is_continued = False
            say(f"{folder} {NOT_PRIVATE}")
        self._is_writable = True
        self.n_taken = 0

    def read(self, key: str) -> SweepRow | None:
        """Take a finished row; None where there is none that is whole."""
        if self.folder is None or not self._is_continued:
            return None
        try:
            held = json.loads((self.folder / f"row-{key}.json").read_bytes())
            row = SweepRow(**held["row"]) if held["digest"] == _digest(key, held["row"]) else None
        except (OSError, KeyError, ValueError, TypeError, RecursionError):
            return None
        self.n_taken += row is not None
        return row

    def write(self, key: str, row: SweepRow) -> None:
        """Keep an answer; complaints are quickly found again and may have been corrected."""
        if self.folder is None or row.exit != DONE or not self._is_writable:
            return
        found = asdict(row)
        content = json.dumps({"row": found, "digest": _digest(key, found)}, allow_nan=False)
        try:
            make_private(self.folder)
            write_whole(self.folder / f"row-{key}.json", content.encode("utf-8"))
        except OSError as error:
            self._is_writable = False
            say(
                f"Finished rows cannot be kept in {self.folder} ({error.strerror or error}). The sweep goes on; "
                "if it is stopped, --resume goes on from what is kept so far."
            )

    def remove(self) -> None:
        """Clear the folder away when the sweep is done."""
        if self.folder is not None:
            shutil.rmtree(self.folder, ignore_errors=True)


def _digest(key: str, row: object) -> str:
    """Checksum of everything that a row holds."""
    return hashlib.sha256(f"{key} {json.dumps(row, sort_keys=True)}".encode()).hexdigest()


def row_key(name: str, plan: Plan, n_draws: int, seed: int) -> str:
    """A checksum of everything that a row depends on."""
    said = (whole_mark(), name, plan.inputs, plan.settings.target.ages_h, n_draws, seed)
    return hashlib.sha256(repr(said).encode()).hexdigest()[:32]


@lru_cache(maxsize=1)
def whole_mark() -> str:
    """A checksum of the whole program, verdict and wording included."""
    digest = hashlib.sha256(program_mark().encode())
    for path in sorted(PACKAGE.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()
