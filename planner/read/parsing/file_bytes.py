"""Files into bytes, once each: what is hashed is what is read."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from planner.read.parsing.findings import Findings

MOST_BYTES = 200_000_000
TABLE_ENDINGS = (".csv", ".xlsx")


@dataclass(slots=True)
class Shelf:
    """The folder of a plan, and the files taken from it."""

    folder: Path
    findings: Findings
    allow_outside: bool = False
    inputs: dict[str, str] = field(default_factory=dict)  # file name as written -> "sha256:..."

    def take(self, name: str, *, endings: tuple[str, ...], column: str | None = None) -> bytes | None:
        """Read a file; None with the reason in the findings where that cannot be done.

        Parameters
        ----------
        name
            Path as the user wrote it, relative to the folder.
        endings
            Allowed file name endings.
        column
            Key of the plan that names the file, for messages.
        """
        try:
            path = (self.folder / name).resolve()
            is_inside = self.allow_outside or path.is_relative_to(self.folder.resolve())
        except (OSError, ValueError, RuntimeError):
            self.findings.problem(name[:200] or "(no name)", "This is no file name. Correct the path.")
            return None
        if not is_inside:
            self.findings.problem(
                name,
                f"The path leaves the folder of the plan ({self.folder}). Put the file beside the plan, "
                "or give --allow-outside.",
                column=column,
            )
            return None
        content = self._content(name, path, endings)
        if content is not None:
            self.inputs[name] = f"sha256:{hashlib.sha256(content).hexdigest()}"
        return content

    def _content(self, name: str, path: Path, endings: tuple[str, ...]) -> bytes | None:
        fault = None
        try:
            if path.is_dir():
                fault = "This is a folder. Give the file in it."
            elif not path.exists():
                fault = f"There is no such file in {path.parent}. Correct the name or put the file there."
            elif not path.is_file():
                fault = "This is no ordinary file. Give a file that can be read to its end."
            elif path.suffix.lower() not in endings:
                fault = _ending_fault(path.suffix, endings)
            elif path.stat().st_size > MOST_BYTES:
                size = path.stat().st_size / 1e6
                fault = f"The file has {size:.0f} MB, more than {MOST_BYTES / 1e6:.0f} MB. Thin or split it."
            else:
                return path.read_bytes()
        except OSError as error:
            fault = f"The file cannot be read ({error.strerror or 'no reason given'})."
        except ValueError:
            fault = "This is no file name. Correct the path."
        self.findings.problem(name, fault)
        return None


def _ending_fault(given: str, endings: tuple[str, ...]) -> str:
    allowed = " or ".join(endings)
    how = " Open it where it was made and save it again." if given.lower() in (".xls", ".ods", ".xlsb") else ""
    return f'The name ends in "{given}", which is not read. Allowed: {allowed}.{how}'
