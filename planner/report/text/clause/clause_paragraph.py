"""One paragraph of a clause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Party = Literal["the contractor", "the laboratory", "the engineer", "the owner"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseParagraph:
    """Who shall do what, and what follows where it is not done; exempt are those that bind nobody."""

    number: str  # "3.2"
    subject: str
    party: Party | None  # None: scope, definitions, precedence
    duty: str  # begins with the party and says "shall"; of an exempt one the whole text
    consequence: str  # "" of an exempt one
    rests_on: str = ""  # the figures behind it and where they come from

    @property
    def text(self) -> str:
        """The whole paragraph."""
        return f"{self.duty} {self.consequence}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseSection:
    """Paragraphs under one numbered heading."""

    number: str
    heading: str
    paragraphs: tuple[ClauseParagraph, ...]


def numbered(headed: tuple[tuple[str, tuple[ClauseParagraph, ...]], ...]) -> tuple[ClauseSection, ...]:
    """Number headings 1, 2, ... and their paragraphs 1.1, 1.2, ..."""
    from dataclasses import replace

    return tuple(
        ClauseSection(
            number=str(at),
            heading=heading,
            paragraphs=tuple(
                replace(paragraph, number=f"{at}.{place}") for place, paragraph in enumerate(paragraphs, start=1)
            ),
        )
        for at, (heading, paragraphs) in enumerate(headed, start=1)
    )
