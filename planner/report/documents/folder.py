"""Files into a folder, all of them whole or none of them touched."""

from __future__ import annotations

import errno
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from planner.report.documents.switch import finish_switches, switch_files
from planner.terms.problems import InputError, Problem

_ADVICE = {
    errno.ENOSPC: "The disk is full: free some space or choose another folder.",
    errno.EDQUOT: "Your share of the disk is used up: free some space or choose another folder.",
    errno.EACCES: "Writing there is not permitted: choose another folder or ask for permission.",
    errno.EPERM: "Writing there is not permitted: choose another folder or ask for permission.",
    errno.EROFS: "The disk is read-only: choose another folder.",
    errno.ENAMETOOLONG: "The path is too long: choose a shorter one.",
    errno.ENOTDIR: "A file stands where a folder is needed: choose another path or move the file.",
}


def check_folder(folder: Path) -> None:
    """Complain now, before anything long is computed, if nothing could be written into `folder`.

    What a run that was killed while writing has left there is finished or cleared away.

    Raises
    ------
    InputError
        If the path is a file, or the folder (or the nearest one above it that exists) takes no files.
    """
    try:
        present = next(path for path in (folder, *folder.absolute().parents) if path.exists())
        is_folder = present.is_dir()
    except OSError as error:  # a folder on the way may not even be looked into
        raise _complaint(folder, _reason(error)) from error
    if not is_folder:
        raise _complaint(folder, _ADVICE[errno.ENOTDIR])
    try:
        with tempfile.TemporaryFile(dir=present):  # trying it tells more than permission bits do
            pass
    except OSError as error:
        raise _complaint(folder, _reason(error)) from error
    if present == folder:
        finish_switches(folder)


def write_files(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write all `files` (name -> content) into `folder`; other files there are left alone.

    Everything is written to temporary files in the same folder first and moved into place last, so that old
    outputs never stand beside new ones, not even where the program is killed in between.

    Raises
    ------
    InputError
        If they cannot be written; what stood there before still stands.
    """
    try:
        has_folder = folder.exists()
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _complaint(folder, _reason(error)) from error
    blocked = [name for name in files if (folder / name).is_dir()]
    if blocked:
        raise InputError(
            Problem(
                file=str(folder / name),
                text="A folder stands where this file must go. Move it or choose another --out.",
            )
            for name in blocked
        )
    try:
        switch_files(folder, files)
    except OSError as error:
        if not has_folder:
            with suppress(OSError):
                folder.rmdir()
        raise _complaint(folder, _reason(error)) from error
    return tuple(folder / name for name in files)


def _reason(error: OSError) -> str:
    advice = _ADVICE.get(error.errno or 0)
    return advice if advice is not None else f"{error.strerror or error}. Choose another folder."


def _complaint(folder: Path, text: str) -> InputError:
    return InputError(
        [Problem(file=str(folder), text=f"The results cannot be written here. {text} Nothing was changed.")]
    )
