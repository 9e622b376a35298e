"""A search that was stopped goes on and ends the same; nothing of another search is mixed in."""

from __future__ import annotations

import pickle
import shutil
import stat
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from planner.resampling import ErrorMatrix
from planner.resampling.search import error_matrix as matrix
from planner.resampling.search.checkpoints import DIGEST, KNOWN, MARK, N_SPOT_CHECKS, Checkpoints, _digest
from planner.resampling.search.execution import surroundings
from planner.resampling.search.kept_files import write_whole
from tests.resampling.searches import assert_same, cut_small, other_plan, search

MORE_PIECES = 6  # before it is stopped again: every new start lays out the whole search


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


@dataclass(frozen=True)
class Finished:
    """A search that kept every piece."""

    folder: Path
    answer: ErrorMatrix
    n_pieces: int

    def copied(self, folder: Path) -> ErrorMatrix:
        """What it kept, in another folder as well; its answer."""
        shutil.copytree(self.folder, folder)
        return self.answer


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Finished:
    folder = tmp_path_factory.mktemp("finished") / "kept"
    with pytest.MonkeyPatch.context() as patch:
        cut_small(patch)
        answer = run(folder)
    return Finished(folder, answer, len(files(folder)))


@pytest.mark.parametrize("stop_after", [1, 2, 7])
def test_a_stopped_search_goes_on_where_it_was(
    tmp_path: Path, finished: Finished, worked: list[int], stop_after: int
) -> None:
    assert finished.n_pieces > 8
    with pytest.raises(StoppedError):
        run(tmp_path / "kept", stop_after=stop_after)
    n_kept = len(files(tmp_path / "kept"))
    assert n_kept in (stop_after, stop_after + 1)
    worked.clear()
    assert_same(run(tmp_path / "kept"), finished.answer)
    assert len(worked) == finished.n_pieces - n_kept + min(N_SPOT_CHECKS, n_kept)


def test_stopped_again_and_again_it_still_ends_the_same(tmp_path: Path, finished: Finished) -> None:
    n_stops = 0
    while True:
        try:
            found = run(tmp_path / "kept", stop_after=len(files(tmp_path / "kept")) + MORE_PIECES)
        except StoppedError:
            n_stops += 1
        else:
            break
    assert n_stops > 3
    assert_same(found, finished.answer)


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
def test_a_damaged_piece_is_worked_out_again(
    tmp_path: Path, finished: Finished, worked: list[int], damage: str
) -> None:
    expected = finished.copied(tmp_path / "kept")
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
    assert len(worked) == 1 + N_SPOT_CHECKS


def reverse(path: Path, *, is_digest_renewed: bool) -> None:
    """Turn the losses of a piece round, and write it as any tool would."""
    with np.load(path, allow_pickle=False) as stored:
        held = {name: stored[name] for name in stored.files}
    held["score"] = held["score"][::-1].copy()
    if is_digest_renewed:
        columns = {name: column for name, column in held.items() if name not in (MARK, DIGEST)}
        held[DIGEST] = np.array(_digest(str(held[MARK]), columns))
    np.savez(path, **held)


def test_arrays_that_were_changed_inside_are_worked_out_again(
    tmp_path: Path, finished: Finished, worked: list[int]
) -> None:
    expected = finished.copied(tmp_path / "kept")
    reverse(files(tmp_path / "kept")[4], is_digest_renewed=False)
    worked.clear()
    assert_same(run(tmp_path / "kept"), expected)
    assert len(worked) == 1 + N_SPOT_CHECKS


@pytest.mark.parametrize("place", [0, -1])
def test_pieces_that_this_machine_does_not_work_out_are_dropped_with_all_others(
    tmp_path: Path, finished: Finished, worked: list[int], place: int
) -> None:
    expected = finished.copied(tmp_path / "kept")
    reverse(files(tmp_path / "kept")[place], is_digest_renewed=True)
    worked.clear()
    said: list[str] = []
    assert_same(run(tmp_path / "kept", said=said), expected)
    assert len(worked) == finished.n_pieces + (1 if place == 0 else N_SPOT_CHECKS)
    assert "differ from what this machine works out. None of them is used" in said[0]


def test_what_was_known_is_part_of_what_is_checked(tmp_path: Path, finished: Finished, worked: list[int]) -> None:
    expected = finished.copied(tmp_path / "kept")
    path = files(tmp_path / "kept")[4]
    with np.load(path, allow_pickle=False) as stored:
        held = {name: stored[name] for name in stored.files}
    held[KNOWN] = held[KNOWN] * 0.5
    np.savez(path, **held)
    worked.clear()
    assert_same(run(tmp_path / "kept"), expected)
    assert len(worked) == 1 + N_SPOT_CHECKS


def test_a_folder_that_others_may_write_into_is_not_trusted(
    tmp_path: Path, finished: Finished, worked: list[int]
) -> None:
    expected = finished.copied(tmp_path / "kept")
    assert stat.S_IMODE((tmp_path / "kept").stat().st_mode) & 0o077 == 0
    (tmp_path / "kept").chmod(0o770)
    worked.clear()
    said: list[str] = []
    assert_same(run(tmp_path / "kept", said=said), expected)
    assert len(worked) == finished.n_pieces
    assert "others may write into it" in said[0]
    (tmp_path / "kept").chmod(0o700)
    (tmp_path / "link").symlink_to(tmp_path / "kept")
    said.clear()
    assert_same(run(tmp_path / "link", said=said), expected)
    assert "is a link" in said[0]


def test_a_run_that_was_stopped_before_its_first_piece_is_no_change_of_inputs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(StoppedError):
        run(tmp_path / "kept", plan=other_plan(), stop_after=3)  # another plan's pieces stand there

    def stopped(*_given: object) -> None:
        raise StoppedError

    with monkeypatch.context() as patched:
        patched.setattr(matrix, "answer_piece", stopped)
        with pytest.raises(StoppedError):
            run(tmp_path / "kept", is_continued=False)
    said: list[str] = []
    run(tmp_path / "kept", said=said)
    assert said == [f"The run that was stopped had finished none of its {len(files(tmp_path / 'kept')) - 3} pieces; "
                    "starting anew."]  # fmt: skip


def test_the_second_search_of_a_run_does_not_take_the_first_for_an_earlier_run(tmp_path: Path) -> None:
    said: list[str] = []
    with surroundings(kept=Checkpoints(tmp_path / "kept", is_continued=True, say=said.append)):
        search()
        search(other_plan())
    assert said == []
    with surroundings(kept=Checkpoints(tmp_path / "kept", is_continued=False, say=said.append)):
        search(other_plan())
        search()
    assert len(said) == 1
    assert "--resume would have taken them" in said[0]


class Alive:
    """Would leave a file behind if it were ever brought back to life."""

    def __init__(self, trace: Path) -> None:
        self.trace = trace

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return Path.touch, (self.trace,)


def test_nothing_is_ever_brought_to_life_from_a_file(tmp_path: Path, finished: Finished) -> None:
    expected = finished.copied(tmp_path / "kept")
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


def test_a_search_that_keeps_its_pieces_answers_as_one_that_keeps_none(finished: Finished) -> None:
    assert_same(finished.answer, search())


def test_where_nothing_can_be_kept_the_search_goes_on_and_says_so_once(tmp_path: Path, finished: Finished) -> None:
    (tmp_path / "kept").write_text("a file stands here")
    said: list[str] = []
    assert_same(run(tmp_path / "kept", said=said), finished.answer)
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
