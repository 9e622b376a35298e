"""Finished pieces on disk, so that a search that was stopped can go on.

One file for each piece, written beside and moved into place, in a folder named by the checksum of inputs,
settings and program: whatever changes, the search starts anew and nothing is mixed. The files hold plain
arrays and are read as such, with a checksum of all they hold; one that is damaged is worked out again. Before
any is taken a few are worked out once more, and the folder must be nobody else's.
"""

from __future__ import annotations

import hashlib
import io
import shutil
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import fields
from pathlib import Path

import numpy as np

from planner.resampling.search.executors import Say
from planner.resampling.search.kept_files import NOT_PRIVATE, is_private, make_private, write_whole
from planner.resampling.search.pieces import Piece
from planner.terms.arrays import AnyArray, FloatArray

FOLDER = ".unfinished"
MARK, DIGEST, KNOWN = "fingerprint", "digest", "known"  # KNOWN: what was known of the best when it was begun
BEGUN = "begun"  # stands in the folder of a search from its start
N_SPOT_CHECKS = 3

Work = Callable[[int, FloatArray], Piece]  # works out the piece of a place anew
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
        self._left: frozenset[str] | None = None  # searches of an earlier run, listed before this one keeps anything

    def read(self, fingerprint: str, place: int) -> Piece | None:
        """Take a finished piece; None where there is none that is whole and of this search."""
        held = self._held(fingerprint, place)
        return None if held is None else held[0]

    def write(self, fingerprint: str, place: int, piece: Piece, known: FloatArray) -> None:
        """Keep a finished piece. Where that fails the search goes on without, and says so once.

        Parameters
        ----------
        known
            What was known of the best when it was begun: with it the piece can be worked out once more.
        """
        if not self._is_writable:
            return
        columns = {name: np.asarray(getattr(piece, name)) for name in _COLUMNS} | {KNOWN: known}
        mark = f"{fingerprint} {place}"
        content = io.BytesIO()
        np.savez(
            content, allow_pickle=False,
            **{MARK: np.array(mark), DIGEST: np.array(_digest(mark, columns))}, **columns,
        )  # fmt: skip
        # What a power cut damages fails its checksum and is worked out again: no need to wait for the disk.
        self._write(self._path(fingerprint, place), content.getbuffer())

    def begin(self, fingerprint: str, n_pieces: int, work: Work) -> None:
        """Look at what an earlier run has left of a search, try some of it, and say once what is used."""
        if self._left is None:
            self._left = self._listed()
        self._check_private()
        self._spot_check(fingerprint, n_pieces, work)
        self._tell(fingerprint, n_pieces)
        self._write(self._path(fingerprint, 0).parent / BEGUN, b"")

    def _held(self, fingerprint: str, place: int) -> tuple[Piece, FloatArray] | None:
        if not self._is_continued:
            return None
        try:
            content = self._path(fingerprint, place).read_bytes()
            with np.load(io.BytesIO(content), allow_pickle=False) as stored:
                mark, digest = str(stored[MARK]), str(stored[DIGEST])
                held = {name: stored[name] for name in (*_COLUMNS, KNOWN)}
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None
        if mark != f"{fingerprint} {place}" or digest != _digest(mark, held) or not _is_whole(held):
            return None
        known = held.pop(KNOWN)
        return Piece(**held), known

    def _check_private(self) -> None:
        """Take nothing from a folder that others may write into: what it holds decides the advice."""
        if self._is_continued and not is_private(self.folder):
            self._is_continued = False
            self._has_said = True
            self._say(f"{self.folder} {NOT_PRIVATE}")

    def _spot_check(self, fingerprint: str, n_pieces: int, work: Work) -> None:
        places = [place for place in range(n_pieces) if self._is_continued and self._path(fingerprint, place).is_file()]
        tried = {places[i * (len(places) - 1) // max(N_SPOT_CHECKS - 1, 1)] for i in range(N_SPOT_CHECKS) if places}
        for place in sorted(tried):
            held = self._held(fingerprint, place)
            if held is not None and not _is_same(held[0], work(place, held[1])):
                self._is_continued = False
                self._has_said = True
                self._say(
                    f"Pieces in {self.folder} differ from what this machine works out. None of them is used; "
                    "starting anew."
                )
                return

    def _tell(self, fingerprint: str, n_pieces: int) -> None:
        if self._has_said or not self._left:
            return
        self._has_said = True
        here = self._path(fingerprint, 0).parent
        n_here = len(list(here.glob("piece-*.npz")))
        if self._is_continued and n_here:
            self._say(f"Going on: up to {n_here} of {n_pieces} pieces are finished ({self.folder}).")
        elif self._is_continued and here.name in self._left:
            self._say(f"The run that was stopped had finished none of its {n_pieces} pieces; starting anew.")
        elif self._is_continued:
            self._say(
                f"Inputs, settings or the program have changed since {self.folder} was written. Nothing in it is "
                "used; starting anew."
            )
        elif n_here:
            self._say(f"{n_here} finished pieces stand in {self.folder}; --resume would have taken them.")

    def _listed(self) -> frozenset[str]:
        try:
            return frozenset(path.name for path in self.folder.iterdir() if path.is_dir())
        except OSError:
            return frozenset()

    def _write(self, path: Path, content: bytes | memoryview) -> None:
        try:
            make_private(self.folder)
            write_whole(path, content, is_on_disk=False)
        except OSError as error:
            self._is_writable = False
            self._say(
                f"Finished pieces cannot be kept in {self.folder} ({error.strerror or error}). The search goes "
                "on; if it is stopped, --resume goes on from what is kept so far."
            )

    def remove(self) -> None:
        """Clear the folder away when the run is done."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _path(self, fingerprint: str, place: int) -> Path:
        return self.folder / fingerprint[:16] / f"piece-{place:06d}.npz"


def _is_whole(held: Mapping[str, AnyArray]) -> bool:
    """Whether the columns fit each other; their content is guarded by the checksums of the file."""
    n_rows = len(held["row_choice"])
    by_row = ("row_joint", "loss", "level", "variance", "is_over", "is_low")
    return all(len(held[name]) == n_rows for name in by_row) and len(held["score"]) == len(held["best_joint"])


def _digest(mark: str, columns: Mapping[str, AnyArray]) -> str:
    """Checksum of everything that a piece holds."""
    digest = hashlib.sha256(mark.encode())
    for name in sorted(columns):
        column = columns[name]
        digest.update(f"{name} {column.dtype.str} {column.shape} ".encode())
        digest.update(np.ascontiguousarray(column).tobytes())
    return digest.hexdigest()


def _is_same(one: Piece, other: Piece) -> bool:
    """Whether two pieces are equal to the last bit."""
    return all(
        np.asarray(getattr(one, name)).tobytes() == np.asarray(getattr(other, name)).tobytes() for name in _COLUMNS
    )
