"""Where readers put what they find, so that one run names every offender."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.terms.labels import listed
from planner.terms.problems import Caution, Problem

MOST_SHOWN = 25  # offenders of one kind in one column that are named one by one
MOST_ALIKE = 4  # offenders with one text that are told one by one
LONGEST_SHOWN = 40  # characters of a given value that are repeated in a message


@dataclass(slots=True)
class Findings:
    """Problems and cautions of one run, in the order in which they were met."""

    problems: list[Problem] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)

    def problem(self, file: str, text: str, *, row: int | None = None, column: str | None = None) -> None:
        """Add one offender."""
        self.problems.append(Problem(file, text, row, column))

    def rows(self, file: str, column: str | None, offenders: Iterable[tuple[int, str]]) -> None:
        """Add offenders of one kind: one each, many with one text together; beyond the first few their number."""
        rows_of: dict[str, list[int]] = {}
        for row, text in offenders:
            rows_of.setdefault(text, []).append(row)
        found: list[tuple[int, str]] = []
        for text, rows in rows_of.items():
            if len(rows) > MOST_ALIKE:
                found.append((rows[0], f"{text} The same in {len(rows) - 1} more: rows {listed(rows[1:])}."))
            else:
                found += [(row, text) for row in rows]
        found.sort(key=lambda item: item[0])
        self.problems.extend(Problem(file, text, row, column) for row, text in found[:MOST_SHOWN])
        if len(found) > MOST_SHOWN:
            self.problem(
                file,
                f"{len(found) - MOST_SHOWN} more rows have the same fault, the last is row {found[-1][0]}.",
                column=column,
            )

    def caution(self, code: str, text: str) -> None:
        """Add something the reader of a result must know."""
        self.cautions.append(Caution(code, text))


def shown(value: object) -> str:
    """Repeat a given value in a message: quoted where it is text, shortened, on one line."""
    text = repr(value) if isinstance(value, str) else str(value)
    text = text.replace("'", '"') if text.startswith("'") and '"' not in text else text
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."
