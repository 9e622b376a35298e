"""Measured tables kept in ``RESULTS.md``, one marked section for each command that measures."""

from __future__ import annotations

import re
from pathlib import Path

RESULTS = Path(__file__).parent / "RESULTS.md"
HEADING = """# Measured on simulated programmes and open data

Written by the commands named; run one to renew its section.
"""


def write_section(command: str, text: str, path: Path = RESULTS) -> None:
    """Put `text` into the section of a command; other sections stay as they are.

    Sections stand in the order of their commands, so that who writes first does not matter.

    Raises
    ------
    ValueError
        Where the text holds a section mark of its own.
    """
    if "<!-- section" in text or "<!-- end" in text:
        raise ValueError("The text holds a section mark of its own. Leave the marks to this function.")
    sections = read_sections(path)
    sections[command] = text.strip()
    parts = [HEADING]
    parts += [f"<!-- section {name} -->\n{sections[name]}\n<!-- end {name} -->\n" for name in sorted(sections)]
    path.write_text("\n".join(parts), encoding="utf-8")


def read_sections(path: Path = RESULTS) -> dict[str, str]:
    """Texts by command; none where the file is not there yet."""
    if not path.exists():
        return {}
    found = re.finditer(r"<!-- section (.+?) -->\n(.*?)\n<!-- end \1 -->", path.read_text(encoding="utf-8"), re.DOTALL)
    return {match[1]: match[2] for match in found}
