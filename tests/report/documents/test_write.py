"""Files whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from planner.report.documents.folder import check_folder, write_files
from planner.terms.problems import InputError

NOBODY = 65534  # the user with no rights, where there are users
FILES = {"one.json": b"new one", "two.csv": b"new two"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_missing_folder_is_made(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    assert write_files(folder, FILES) == (folder / "one.json", folder / "two.csv")
    assert contents(folder) == FILES


def test_an_existing_folder_keeps_its_other_files(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_bytes(b"mine")
    (tmp_path / "one.json").write_bytes(b"old one")
    write_files(tmp_path, FILES)
    assert contents(tmp_path) == {**FILES, "mine.txt": b"mine"}


@pytest.mark.parametrize("n_done", [0, 1])
def test_a_move_that_fails_leaves_the_old_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, n_done: int) -> None:
    (tmp_path / "one.json").write_bytes(b"old one")
    before = contents(tmp_path)
    moves: list[Path] = []
    move = Path.replace

    def failing(self: Path, target: Path) -> Path:
        moves.append(self)
        if len(moves) == n_done + 1:
            raise OSError(errno.EACCES, "refused")
        return move(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(InputError, match=r"not permitted.*Nothing was changed"):
        write_files(tmp_path, FILES)
    assert contents(tmp_path) == before


def test_a_full_disk_leaves_the_old_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one.json").write_bytes(b"old one")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="disk is full"):
        write_files(tmp_path, FILES)
    assert contents(tmp_path) == {"one.json": b"old one"}


def test_an_interruption_leaves_the_old_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_files(tmp_path, FILES)
    assert contents(tmp_path) == {}


def test_a_folder_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "two.csv").mkdir()
    with pytest.raises(InputError, match=r"two.csv.*A folder stands where this file must go"):
        write_files(tmp_path, FILES)
    assert [path.name for path in tmp_path.iterdir()] == ["two.csv"]


@pytest.mark.parametrize("tail", [(), ("deeper",), ("deeper", "still")])
def test_a_file_in_the_way_is_told_before_anything_is_computed(tmp_path: Path, tail: tuple[str, ...]) -> None:
    (tmp_path / "out").write_bytes(b"a file")
    with pytest.raises(InputError, match="A file stands where a folder is needed"):
        check_folder((tmp_path / "out").joinpath(*tail))


def test_a_path_that_is_fine_is_not_touched(tmp_path: Path) -> None:
    check_folder(tmp_path / "new" / "deeper")
    assert list(tmp_path.iterdir()) == []


@contextmanager
def without_privileges() -> Iterator[None]:
    """Permission bits do not bind an administrator: step down for the while."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(os.name == "nt", reason="permission bits mean nothing there")
@pytest.mark.parametrize("mode", [0o555, 0o000])
@pytest.mark.parametrize("act", [check_folder, lambda folder: write_files(folder, FILES)])
def test_a_read_only_folder_is_told(mode: int, act: Callable[[Path], object]) -> None:
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(mode)
        try:
            with without_privileges(), pytest.raises(InputError, match="not permitted"):
                act(Path(name) / "out")
        finally:
            Path(name).chmod(0o700)
