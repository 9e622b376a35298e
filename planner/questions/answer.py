"""An answer with all the ways it is shown: value, document, account, files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from planner.terms.plan.shown_as import ShownAs

if TYPE_CHECKING:
    from planner.report.text.blocks import Section

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer(Generic[Result]):
    """What a question is answered with."""

    result: Result  # the frozen value that everything else is made of
    document: Mapping[str, Any]  # plain values, as ``--json`` prints them
    sections: tuple[Section, ...]  # the account, as the terminal prints it
    files: Mapping[str, Callable[[], bytes]]  # what `write` writes: name, and what makes the content
    sources: frozenset[Path] = frozenset()  # files that it does not write over
    shown: ShownAs = field(default_factory=ShownAs)  # units of the account and the pages
    brief: tuple[Section, ...] = ()  # the first screen; the whole account where there is none

    def write(self, folder: str | Path) -> tuple[Path, ...]:
        """Write the files into a folder, all of them or none.

        Raises
        ------
        InputError
            Where they cannot be written, or one would replace what the answer was read from.
        """
        from planner.report.documents.folder import write_files
        from planner.report.documents.shown_page import file_shown
        from planner.report.text.shown_units import shown_in

        self.check_target(Path(folder))
        with shown_in(self.shown):
            made = {name: file_shown(name, content()) for name, content in self.files.items()}
        return write_files(Path(folder), made)

    def check_target(self, folder: Path) -> None:
        """Refuse, before anything is shown, a folder that cannot be written or holds the sources.

        Raises
        ------
        InputError
        """
        from planner.report.documents.folder import check_folder
        from planner.terms.problems import InputError, Problem

        check_folder(folder)
        taken = [folder / name for name in self.files if (folder / name).resolve() in self.sources]
        if taken:
            text = "The records were read from this file; it is not overwritten. Choose another folder."
            raise InputError(Problem(file=str(path), text=text) for path in taken)

    def account(self, *, is_full: bool = True) -> tuple[Section, ...]:
        """The account, section by section; the first screen of it where it is not full."""
        return self.sections if is_full or not self.brief else self.brief

    def json(self) -> str:
        """The document as text."""
        return document_text(self.document)

    def __repr__(self) -> str:
        from planner.report.text.plain_blocks import plain_sections

        return plain_sections(self.sections)

    def _repr_html_(self) -> str:
        from planner.report.text.html_blocks import html_sections

        return html_sections(self.sections)


def answer_of(
    result: Result,
    document: Mapping[str, Any],
    sections: Callable[[], tuple[Section, ...]],
    *,
    file_name: str,
    shown: ShownAs,
) -> Answer[Result]:
    """An answer whose only file is its document."""
    return Answer(
        result=result,
        document=document,
        sections=told_in(shown, sections),
        shown=shown,
        files={file_name: lambda: document_text(document).encode("utf-8")},
    )


def told_in(shown: ShownAs, sections: Callable[[], tuple[Section, ...]]) -> tuple[Section, ...]:
    """An account made and worded in the units asked for."""
    from planner.report.text.shown_blocks import sections_shown
    from planner.report.text.shown_units import shown_in

    with shown_in(shown):
        return sections_shown(sections())


def document_text(document: Mapping[str, Any]) -> str:
    """The text of a JSON document, as every command prints and writes it."""
    from planner.report.documents.values.recommendation_document import write_json

    return write_json(dict(document))
