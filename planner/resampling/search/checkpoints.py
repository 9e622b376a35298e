"""Finished pieces on disk, so that a search that was stopped can go on.

One file for each piece, written beside and moved into place, in a folder named by the checksum of inputs,
settings and program: whatever changes, the search starts anew and nothing is mixed. The files hold plain
arrays and are read as such; one that is damaged is worked out again.
"""

from __future__ import annotations

import io
import os
import shutil
import zipfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import fields
from pathlib import Path

import numpy as np

from planner.resampling.search.executors import Say
from planner.resampling.search.pieces import Piece
from planner.terms.arrays import AnyArray

FOLDER = ".unfinished"
MARK = "fingerprint"
_COLUMNS = tuple(field.name for field in fields(Piece))


class Checkpoints:
    """A folder for the finished pieces of every search of one run.

    Parameters
    ----------
    folder
        Made when the first piece is finished.
    is_continued
        Whether pieces that are there already are taken. Where not, they are worked out and written again.
    say
        Is told what is taken and what cannot be written.
    """

    def __init__(self, folder: Path, *, is_continued: bool, say: Say = lambda _text: None) -> None:
        self.folder = folder
        self._is_continued = is_continued
        self._say = say
        self._is_writable = True
        self._has_said = False

    def read(self, fingerprint: str, place: int) -> Piece | None:
        """Take a finished piece; None where there is none that is whole and of this search."""
        if not self._is_continued:
            return None
        path = self._path(fingerprint, place)
        try:
            content = path.read_bytes()
            with np.load(io.BytesIO(content), allow_pickle=False) as stored:
                held = {name: stored[name] for name in (MARK, *_COLUMNS)}
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None
        if str(held.pop(MARK)) != f"{fingerprint} {place}" or not _is_whole(held):
            return None
        return Piece(**held)

    def write(self, fingerprint: str, place: int, piece: Piece) -> None:
        """Keep a finished piece. Where that fails the search goes on without, and says so once."""
        if not self._is_writable:
            return
        path = self._path(fingerprint, place)
        content = io.BytesIO()
        columns = {name: np.asarray(getattr(piece, name)) for name in _COLUMNS}
        np.savez(content, allow_pickle=False, **{MARK: np.array(f"{fingerprint} {place}")}, **columns)
        try:
            # What a power cut damages fails its checksum and is worked out again: no need to wait for the disk.
            write_whole(path, content.getbuffer(), is_on_disk=False)
        except OSError as error:
            self._is_writable = False
            self._say(
                f"Finished pieces cannot be kept in {self.folder} ({error.strerror or error}). The search goes "
                "on; if it is stopped, --resume goes on from what is kept so far."
            )

    def tell(self, fingerprint: str, n_pieces: int) -> None:
        """Say what of an earlier run is used, once for a run."""
        if self._has_said or not self.folder.is_dir():
            return
        self._has_said = True
        here = self._path(fingerprint, 0).parent
        n_here = len(list(here.glob("piece-*.npz"))) if here.is_dir() else 0
        n_other = len([path for path in self.folder.iterdir() if path.is_dir() and path != here])
        if self._is_continued and n_here:
            self._say(f"Going on: up to {n_here} of {n_pieces} pieces are finished ({self.folder}).")
        elif self._is_continued and n_other:
            self._say(
                f"Inputs, settings or the program have changed since {self.folder} was written. Nothing in it is "
                "used; starting anew."
            )
        elif n_here:
            self._say(f"{n_here} finished pieces stand in {self.folder}; --resume would have taken them.")

    def remove(self) -> None:
        """Clear the folder away when the run is done."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _path(self, fingerprint: str, place: int) -> Path:
        return self.folder / fingerprint[:16] / f"piece-{place:06d}.npz"


def write_whole(path: Path, content: bytes | memoryview, *, is_on_disk: bool = True) -> None:
    """Write a file that is there whole or not at all, whenever the program is killed.

    Parameters
    ----------
    is_on_disk
        Wait until a power cut would spare it too.

    Raises
    ------
    OSError
        Where it cannot be written; nothing is left behind.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with part.open("wb") as stream:
            stream.write(content)
            if is_on_disk:
                stream.flush()
                os.fsync(stream.fileno())
        part.replace(path)
    except BaseException:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise


def _is_whole(held: Mapping[str, AnyArray]) -> bool:
    """Whether the columns fit each other; their content is guarded by the checksums of the file."""
    n_rows = len(held["row_choice"])
    by_row = ("row_joint", "loss", "level", "variance", "is_over", "is_low")
    return all(len(held[name]) == n_rows for name in by_row) and len(held["score"]) == len(held["best_joint"])
