"""What pictures as files need beside the program; those on the page need nothing."""

from __future__ import annotations

from importlib.util import find_spec

from planner.terms.problems import InputError, Problem

LIBRARY = "matplotlib"
INSTALL = 'pip install "test-age-planner[figures]"'


def check_drawable() -> None:
    """Complain now, before anything long is computed, if pictures cannot be drawn into files.

    Raises
    ------
    InputError
        Naming the line that installs what is missing.
    """
    if find_spec(LIBRARY) is None:
        text = f"Pictures as files need {LIBRARY}, which is not installed. Run: {INSTALL}"
        raise InputError([Problem(file="--figures", text=text)])
