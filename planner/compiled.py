"""Compiled loops, kept where one can write, in a folder named by the content of all files that are compiled.

numba notices a change in the file of a loop, not in the files whose loops it calls. So what is kept of one state of
the sources stands in a folder of its own: after an edit nothing old is found, and nothing has to be removed by hand.

The folder stands in the first of these that takes files: what ``TEST_AGES_CACHE`` names, what ``NUMBA_CACHE_DIR``
names, the program's own folder, the user's cache, a private temporary folder. Where none does, nothing is kept.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numba

PACKAGE = Path(__file__).parent
ROOMS = ("fitting", "mixed_model", "resampling", "terms", "verdict/selection")  # loops and what they call or hold
VARIABLE, NUMBA_VARIABLE = "TEST_AGES_CACHE", "NUMBA_CACHE_DIR"
FOLDER = "compiled-{}"  # by the first digits of the checksum
UNUSED_DAYS = 30.0  # after which what is kept of other states is removed
_OLD = re.compile(r"compiled-[0-9a-f]{16}")


@dataclass(frozen=True, slots=True)
class Kept:
    """Where compiled code is kept."""

    folder: Path | None  # None: nowhere
    is_lasting: bool  # whether it will be there for the next run

    @property
    def note(self) -> str:
        """What a person should know of it; "" where there is nothing to say."""
        if self.folder is None:
            return (
                "Nothing can be written where compiled code could be kept, so every run compiles anew, about half a "
                f"minute longer. Set {VARIABLE} to a folder that may be written."
            )
        if not self.is_lasting:
            return (
                f"Compiled code is kept in {self.folder}, which may be cleared at any time. Set {VARIABLE} to a folder "
                "that stays."
            )
        return ""


def njit(**options: Any) -> Callable[[Callable[..., Any]], Any]:
    """As numba's decorator; with ``cache=True`` what is compiled is kept in the folder of this state of the sources."""
    is_wanted = options.pop("cache", False)

    def compile_later(function: Callable[..., Any]) -> Any:
        folder = kept().folder if is_wanted else None
        if folder is None:
            return numba.njit(**options)(function)
        config: Any = numba.config  # read once, while the loop is made: other users of numba keep their own folder
        before, config.CACHE_DIR = config.CACHE_DIR, str(folder)
        try:
            made = numba.njit(cache=True, **options)(function)
            made._cache = _Lenient(made._cache)
            return made
        finally:
            config.CACHE_DIR = before

    return compile_later


def inner_njit(*, is_inlined: bool = False) -> Callable[[Callable[..., Any]], Any]:
    """As :func:`njit`, for loops that are called for every fit and make no arrays.

    numba counts who holds an array each time it is passed on, in a way that is safe between threads and therefore
    slow; a loop that makes none can do without. Inlined, a loop is passed neither arrays nor a tuple of results.
    """
    inline = "always" if is_inlined else "never"
    return njit(cache=True, nogil=True, error_model="numpy", inline=inline, _nrt=False)


class _Lenient:
    """numba's cache of one loop; where the disk is full, a loop that cannot be kept is compiled all the same."""

    def __init__(self, cache: Any) -> None:
        self._cache = cache

    def __getattr__(self, name: str) -> Any:
        return getattr(self._cache, name)

    def save_overload(self, signature: Any, data: Any) -> None:
        with suppress(OSError):  # numba writes beside and renames, so nothing half written is found
            self._cache.save_overload(signature, data)


@lru_cache(maxsize=1)
def kept() -> Kept:
    """Find the folder, once for a process; it is made, and long unused ones beside it are removed."""
    name = FOLDER.format(sources_digest()[:16])
    for base, is_lasting in _bases():
        folder = base / name
        if _takes_files(folder, is_private=not is_lasting):
            _remove_unused(base, but=folder)
            return Kept(folder, is_lasting)
    return Kept(None, is_lasting=False)


@lru_cache(maxsize=1)
def sources_digest() -> str:
    """A checksum of every file that compiled code may depend on."""
    digest = hashlib.sha256(Path(__file__).read_bytes())
    for path in sorted(path for room in ROOMS for path in (PACKAGE / room).rglob("*.py")):
        digest.update(path.relative_to(PACKAGE).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _bases() -> Iterator[tuple[Path, bool]]:
    """Where the folder could stand, and whether it would last."""
    for variable in (VARIABLE, NUMBA_VARIABLE):
        if os.environ.get(variable):
            yield Path(os.environ[variable]).expanduser(), True
    yield PACKAGE / "__pycache__", True
    with suppress(RuntimeError):  # no home
        yield Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "test-age-planner", True
    with suppress(OSError):  # no temporary folder takes files
        yield Path(tempfile.gettempdir()) / f"test-age-planner-{os.getuid()}", False


def _takes_files(folder: Path, *, is_private: bool) -> bool:
    """Whether files can be written there; a folder that others could have filled takes none."""
    try:
        if is_private:
            folder.parent.mkdir(mode=0o700, exist_ok=True)
            status = folder.parent.lstat()
            if not stat.S_ISDIR(status.st_mode) or status.st_uid != os.getuid() or status.st_mode & 0o077:
                return False
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):  # trying it tells more than permission bits do
            pass
        os.utime(folder)  # used today
    except OSError:
        return False
    return True


def _remove_unused(base: Path, *, but: Path) -> None:
    oldest = time.time() - UNUSED_DAYS * 86_400.0
    with suppress(OSError):
        for path in base.iterdir():
            if path != but and _OLD.fullmatch(path.name) and path.stat().st_mtime < oldest:
                shutil.rmtree(path, ignore_errors=True)
