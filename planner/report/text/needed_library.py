"""Libraries that an extra installs, for what stands on no screen and no page: complained about before the work."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec

from planner.terms.problems import InputError, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class NeededLibrary:
    """A library beside the program."""

    module: str  # as Python imports it
    need: str  # what needs which library, as a sentence begins
    extra: str  # of the program, that installs it
    option: str  # that asked for it

    def check(self) -> None:
        """Complain now, before anything long is computed, if it is not installed.

        Raises
        ------
        InputError
            Naming the line that installs it.
        """
        if find_spec(self.module) is None:
            text = f'{self.need}, which is not installed. Run: pip install "test-age-planner[{self.extra}]"'
            raise InputError([Problem(file=self.option, text=text)])


OF_FIGURES = NeededLibrary(
    module="matplotlib", need="Pictures as files need matplotlib", extra="figures", option="--figures"
)
OF_CLAUSE = NeededLibrary(module="docx", need="clause.docx needs python-docx", extra="documents", option="--out")
