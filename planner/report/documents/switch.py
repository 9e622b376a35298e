"""One set of files in place of another, so that old ones never stand beside new ones whenever it is stopped.

New files are written whole into a folder of their own beside the old ones, with a list of them and their
checksums last. Then all old ones are moved out, then all new ones in. Whoever finds such a folder later, its
writer gone, finishes the switch where the list is complete and clears the folder away where it is not.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # no such locks on this system
    HAS_LOCKS = False
else:
    HAS_LOCKS = True

PREFIX = ".writing-"
NEW, BEFORE, LIST, LOCK = "new", "before", "files.json", "lock"
LONGEST_WRITING_S = 24 * 3600.0  # where nobody can tell whether a writer lives


def switch_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Put all `files` (name -> content) into `folder` in place of those that stand there.

    Raises
    ------
    OSError
        Where one of them cannot be written or moved; what stood there before stands there again.
    """
    staging = Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder))
    try:
        with _held(staging):
            _stage(staging, files)
            try:
                _move(folder, staging, files)
            except BaseException:
                _take_back(folder, staging, files)
                raise
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def finish_switches(folder: Path) -> None:
    """Finish or clear away what writers that were killed have left in `folder`."""
    for staging in sorted(folder.glob(f"{PREFIX}*")):
        with suppress(OSError):
            if _is_left(staging):
                if (names := _listed(folder, staging)) is not None:
                    _move(folder, staging, names)
                shutil.rmtree(staging, ignore_errors=True)


def _stage(staging: Path, files: Mapping[str, bytes]) -> None:
    for name in (NEW, BEFORE):
        (staging / name).mkdir()
    for name, content in files.items():
        _write(staging / NEW / name, content)
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    _write(staging / LIST, json.dumps(digests).encode("utf-8"))


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _move(folder: Path, staging: Path, names: Iterable[str]) -> None:
    """Old ones out, then new ones in; begun again after a stop it does the rest."""
    waiting = [name for name in names if (staging / NEW / name).exists()]
    for name in waiting:
        if (folder / name).exists():
            (folder / name).replace(staging / BEFORE / name)
    for name in waiting:
        (staging / NEW / name).replace(folder / name)


def _take_back(folder: Path, staging: Path, names: Iterable[str]) -> None:
    for name in names:
        with suppress(OSError):
            if not (staging / NEW / name).exists():
                (folder / name).unlink(missing_ok=True)
            if (staging / BEFORE / name).exists():
                (staging / BEFORE / name).replace(folder / name)


def _listed(folder: Path, staging: Path) -> list[str] | None:
    """Names of the files to be switched; None where the writing was stopped before all of them were there."""
    try:
        digests = json.loads((staging / LIST).read_bytes())
        for name, digest in digests.items():
            is_plain = Path(name).name == name
            place = staging / NEW / name if (staging / NEW / name).exists() else folder / name
            if not is_plain or hashlib.sha256(place.read_bytes()).hexdigest() != digest:
                return None
    except (OSError, ValueError, AttributeError, TypeError):
        return None
    return list(digests)


@contextmanager
def _held(staging: Path) -> Iterator[None]:
    """Hold a lock that goes with this process, however it ends."""
    with (staging / LOCK).open("wb") as stream:
        if HAS_LOCKS:
            fcntl.flock(stream, fcntl.LOCK_EX)
        yield


def _is_left(staging: Path) -> bool:
    """Whether the writer of a folder is gone."""
    if not HAS_LOCKS:
        return time.time() - staging.stat().st_mtime > LONGEST_WRITING_S
    if not (staging / LOCK).exists():
        return time.time() - staging.stat().st_mtime > 1.0  # made, and the lock not yet
    with (staging / LOCK).open("rb") as stream:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
    return True
