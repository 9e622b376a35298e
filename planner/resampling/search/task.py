"""What a search asks, as one value that travels to whoever works on its pieces."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from pathlib import Path

import numba
import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint
from planner.resampling.search.executors import OtherProgramError
from planner.resampling.search.pieces import Piece, score_piece
from planner.terms.arrays import BoolArray, FloatArray, IntArray

PACKAGE = Path(__file__).parents[2]
ROOMS = (
    "choices",
    "curves",
    "evidence",
    "fitting",
    "maturity",
    "mixed_model",
    "resampling",
    "terms",
)  # a piece depends on these


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Question:
    """Everything a piece depends on but its own schedules and what is known of the best."""

    cells: Cells
    choices: ChoiceSet
    joints: tuple[Joint, ...]
    scoring: Scoring
    is_maximal: BoolArray  # patterns that no further specimen fits into, (n_patterns,)
    is_all_kept: bool

    def fingerprint(self) -> str:
        """A checksum of the inputs, the settings and the program that answers."""
        digest = hashlib.sha256(program_mark().encode())
        for part in _parts(self):
            digest.update(part)
        return digest.hexdigest()


def answer_piece(question: Question, program: str, which: IntArray | slice, threshold: FloatArray) -> Piece:
    """Score one piece, here or on another machine.

    Parameters
    ----------
    program
        `program_mark` of who asks.
    which
        Schedules of the piece, rising positions or a span.
    threshold
        As in :func:`score_piece`.

    Raises
    ------
    OtherProgramError
        Where the machine runs another program than who asks.
    """
    if program != program_mark():
        raise OtherProgramError(
            f"The machine {platform.node()} runs another version of the planner, of numpy, numba or Python. "
            "Install the same versions on every machine and start the workers anew."
        )
    return score_piece(
        question.cells,
        question.choices,
        which,
        question.joints,
        question.scoring,
        threshold=threshold,
        is_maximal=question.is_maximal[question.choices.pattern_of[which]],
        is_all_kept=question.is_all_kept,
    )


@lru_cache(maxsize=1)
def program_mark() -> str:
    """A checksum of the lines that a piece depends on and of what compiles and runs them."""
    digest = hashlib.sha256(f"{platform.python_version()} {np.__version__} {numba.__version__}".encode())
    for path in sorted(path for room in ROOMS for path in (PACKAGE / room).rglob("*.py")):
        digest.update(path.relative_to(PACKAGE).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _parts(value: object) -> Iterator[bytes]:
    """Bytes that differ wherever two values do."""
    if isinstance(value, np.ndarray):
        yield f"array {value.dtype.str} {value.shape} ".encode()
        yield np.ascontiguousarray(value).tobytes()
    elif is_dataclass(value):
        yield f"{type(value).__name__} ".encode()
        for field in fields(value):
            yield from _parts(getattr(value, field.name))
    elif isinstance(value, tuple | list):
        yield f"{len(value)} of ".encode()
        for item in value:
            yield from _parts(item)
    elif value is None or isinstance(value, str | int | float):
        yield f"{type(value).__name__} {value!r} ".encode()
    else:
        raise TypeError(f"{type(value).__name__} has no fingerprint")
