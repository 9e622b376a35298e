"""Files that a run keeps for the next one: written whole, in a folder that is nobody else's."""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

WRITABLE_BY_OTHERS = stat.S_IWGRP | stat.S_IWOTH
NOT_PRIVATE = (
    "is a link, or others may write into it. Nothing in it is used; starting anew. "
    "Take their permission away where what it holds is yours."
)


def make_private(folder: Path) -> None:
    """Make a folder that only its owner may write into, where there is none.

    Raises
    ------
    OSError
        Where it cannot be made.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)


def is_private(folder: Path) -> bool:
    """Whether what a folder holds can only be one's own; true where there is none."""
    try:
        held = folder.lstat()
    except OSError:
        return True
    if not hasattr(os, "geteuid"):
        return not stat.S_ISLNK(held.st_mode)
    is_own = held.st_uid == os.geteuid() and not stat.S_IMODE(held.st_mode) & WRITABLE_BY_OTHERS
    return is_own and not stat.S_ISLNK(held.st_mode)


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
