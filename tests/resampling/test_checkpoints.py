"""A search that was stopped goes on and ends the same; nothing of another search is mixed in."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

from planner.resampling.search import error_matrix as matrix
from planner.resampling.search.checkpoints import Checkpoints, write_whole
from planner.resampling.search.execution import surroundings

from .searches import assert_same, cut_small, other_plan, search


class StoppedError(Exception):
    """Stands for whatever ends a program early."""


@pytest.fixture(autouse=True)
def _small(monkeypatch: pytest.MonkeyPatch) -> None:
    cut_small(monkeypatch)


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry for every piece that is worked out."""
    seen: list[int] = []
    real = matrix.answer_piece
    monkeypatch.setattr(matrix, "answer_piece", lambda *given: seen.append(1) or real(*given))
    return seen


def run(folder: Path, *, is_continued: bool = True, stop_after: int | None = None, plan=None, said=None):  # type: ignore[no-untyped-def]
    def progress(done: int, _total: int, _what: str) -> None:
        if done == stop_after:
            raise StoppedError

    kept = Checkpoints(folder, is_continued=is_continued, say=(said if said is not None else []).append)
    with surroundings(kept=kept):
        return search(plan, progress=progress)


def files(folder: Path) -> list[Path]:
    return sorted(folder.rglob("piece-*.npz"))


@pytest.mark.parametrize("stop_after", [1, 2, 7])
def test_a_stopped_search_goes_on_where_it_was(tmp_path: Path, worked: list[int], stop_after: int) -> None:
    expected = search()
    n_pieces = len(worked)
    assert n_pieces > 8
    with pytest.raises(StoppedError):
        run(tmp_path / "kept", stop_after=stop_after)
    assert len(files(tmp_path / "kept")) in (stop_after, stop_after + 1)
    worked.clear()
    assert_same(run(tmp_path / "kept"), expected)
    assert n_pieces - stop_after - 1 <= len(worked) <= n_pieces - stop_after


def test_stopped_again_and_again_it_still_ends_the_same(tmp_path: Path) -> None:
    expected = search()
    n_stops = 0
    while True:
        try:
            found = run(tmp_path / "kept", stop_after=len(files(tmp_path / "kept")) + 2)
        except StoppedError:
            n_stops += 1
        else:
            break
    assert n_stops > 3
    assert_same(found, expected)


def test_without_continuing_every_piece_is_worked_out_anew_and_the_old_ones_are_mentioned(
    tmp_path: Path, worked: list[int]
) -> None:
    run(tmp_path / "kept")
    n_pieces = len(worked)
    worked.clear()
    said: list[str] = []
    run(tmp_path / "kept", is_continued=False, said=said)
    assert len(worked) == n_pieces
    assert "--resume would have taken them" in said[0]


def test_a_changed_input_is_noticed_and_not_mixed(tmp_path: Path, worked: list[int]) -> None:
    with pytest.raises(StoppedError):
        run(tmp_path / "kept", stop_after=3)
    expected = search(other_plan())
    worked.clear()
    said: list[str] = []
    assert_same(run(tmp_path / "kept", plan=other_plan(), said=said), expected)
    assert len(worked) > 8
    assert "have changed" in said[0]


@pytest.mark.parametrize("damage", ["cut short", "one bit", "empty", "of another place", "foreign", "a folder"])
def test_a_damaged_piece_is_worked_out_again(tmp_path: Path, worked: list[int], damage: str) -> None:
    expected = run(tmp_path / "kept")
    path, other = files(tmp_path / "kept")[4], files(tmp_path / "kept")[5]
    content = bytearray(path.read_bytes())
    if damage == "one bit":
        content[len(content) // 2] ^= 1
    changed = {
        "cut short": bytes(content[:-200]),
        "one bit": bytes(content),
        "empty": b"",
        "of another place": other.read_bytes(),
        "foreign": b"these are not the arrays you look for",
    }
    path.unlink()
    if damage == "a folder":
        path.mkdir()
    else:
        path.write_bytes(changed[damage])
    worked.clear()
    assert_same(run(tmp_path / "kept"), expected)
    assert len(worked) == 1


class Alive:
    """Would leave a file behind if it were ever brought back to life."""

    def __init__(self, trace: Path) -> None:
        self.trace = trace

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return Path.touch, (self.trace,)


def test_nothing_is_ever_brought_to_life_from_a_file(tmp_path: Path) -> None:
    expected = run(tmp_path / "kept")
    path = files(tmp_path / "kept")[2]
    trace = tmp_path / "alive"
    with np.load(path, allow_pickle=False) as stored:
        columns = {name: stored[name] for name in stored.files}
    columns["loss"] = np.array([Alive(trace)], dtype=object)
    np.savez(path, **columns)
    assert_same(run(tmp_path / "kept"), expected)
    path.write_bytes(pickle.dumps(Alive(trace)))
    assert_same(run(tmp_path / "kept"), expected)
    assert not trace.exists()


def test_where_nothing_can_be_kept_the_search_goes_on_and_says_so_once(tmp_path: Path) -> None:
    expected = search()
    (tmp_path / "kept").write_text("a file stands here")
    said: list[str] = []
    assert_same(run(tmp_path / "kept", said=said), expected)
    assert len(said) == 1
    assert "cannot be kept" in said[0]


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "deep" / "one"
    write_whole(path, b"before")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"after")
    assert path.read_bytes() == b"before"
    assert list(path.parent.iterdir()) == [path]


def test_what_is_kept_is_cleared_away(tmp_path: Path) -> None:
    run(tmp_path / "kept")
    Checkpoints(tmp_path / "kept", is_continued=True).remove()
    assert list(tmp_path.iterdir()) == []
