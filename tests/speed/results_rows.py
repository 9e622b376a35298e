"""Each benchmark renews its own row of ``RESULTS.md``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

RESULTS = Path(__file__).with_name("RESULTS.md")
END = "<!-- end tests.speed -->"


def with_row(text: str, what: str, measured: str, beside: str | None = None) -> str:
    """The text with the row that begins with `what` measured anew, or with a row more; what stands beside stays."""
    lines = text.splitlines()
    held = next((at for at, line in enumerate(lines) if line.startswith((f"| {what} |", f"| {what} ("))), None)
    kept = "" if held is None else lines[held].strip("|").split("|")[2].strip()
    row = f"| {what} ({dt.date.today()}) | {measured} | {kept if beside is None else beside} |"
    if held is None:
        lines.insert(lines.index(END), row)
    else:
        lines[held] = row
    return "\n".join(lines) + "\n"


def renew(what: str, seconds: float, peak_mb: float) -> None:
    """Write time and memory of a command into its row."""
    size = f"{peak_mb:,.0f} MB" if peak_mb < 1000 else f"{peak_mb / 1000:.2f} GB"
    renew_row(what, f"{seconds:.1f} s, {size}")


def renew_row(what: str, measured: str) -> None:
    """Write what was measured into its row."""
    RESULTS.write_text(with_row(RESULTS.read_text(encoding="utf-8"), what, measured), encoding="utf-8")
