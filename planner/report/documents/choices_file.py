"""``choices.csv``: every schedule in one row, with its best curve, weighting and constants, best score first.

Ages and specimens are separated by semicolons, so that no field needs a comma: ``6 h; 1 d``, ``3; 3``. The
table is built column by column: two hundred thousand rows, but few different words among them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import BytesIO
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.maturity import MaturitySetting
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.results.schedule_table import ScheduleTable

COLUMNS = (
    "ages",
    "specimens",
    "n_specimens",
    "curve",
    "weighting",
    "maturity",
    "score",
    "rms",
    "bias",
    "mean_abs",
    "p95_abs",
    "within_tolerance",
    "over_predicted_beyond_tolerance",
    "cost",
    "last_age_h",
    "n_batches",
    "evidence",
    "basis",
    "n_visits",
)
SHARE_DECIMALS = 5  # a thousandth of a percent; beyond it a share of batches means nothing
SIGNIFICANT = {"score": 6, "last_age_h": 6, "cost": 6}  # digits written
SIGNIFICANT_ELSEWHERE = 5
MOST_WRITTEN = 20_000  # written where not all are wanted: the whole table of a large plan takes 40 MB
ROWS_AT_ONCE = 20_000  # as text they take five times the memory of the figures
_LARGEST_NUMBER = 2**40  # of rows, before they are numbered anew: no count times this overflows

if TYPE_CHECKING:
    import pandas as pd

Cell = str | float | int | None
Value = TypeVar("Value")


def choice_frame(table: ChoiceTable) -> pd.DataFrame:
    """Every schedule in one row under `COLUMNS`; figures are numbers, NaN where there is none."""
    import pandas as pd

    columns = _columns(table)
    return pd.DataFrame({name: _framed(columns[name]) for name in COLUMNS})


def write_choices(table: ChoiceTable, *, most: int | None = None) -> bytes:
    """Write the table as comma-separated text; figures that are not known stay empty.

    Parameters
    ----------
    most
        How many of the best schedules are written; all where None.
    """
    columns = {name: column[:most] for name, column in _columns(table).items()}
    text = BytesIO()  # hands out what it holds without a copy
    text.write((",".join(COLUMNS) + "\n").encode())
    for start in range(0, len(columns["score"]), ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        written = (_written(name, columns[name][part]) for name in COLUMNS)
        text.write(("\n".join(map(",".join, zip(*written, strict=True))) + "\n").encode())
    return text.getvalue()


def maturity_cell(setting: MaturitySetting) -> str:
    """Method and constant, without commas. The reference only scales the clock; no prediction depends on it."""
    return str(setting).split(", reference")[0].replace(", ", "; ")


def _columns(table: ChoiceTable) -> dict[str, Sequence[str] | AnyArray]:
    """Every column, words as sequences and figures as arrays, each of one entry a schedule."""
    schedules = ScheduleTable.of(table.schedules)
    labels = [age_label(age) for age in schedules.ages_h.tolist()]
    return {
        "ages": _cells_of(schedules.specimens > 0, lambda held: _joined(labels, held)),
        "specimens": _cells_of(_packed(schedules.specimens), lambda counts: _joined(counts, counts)),
        "n_specimens": schedules.n_specimens,
        "curve": table.curve,
        "weighting": table.weighting,
        "maturity": _looked_up(table.maturity, maturity_cell),
        "score": table.score,
        "rms": table.rms,
        "bias": table.bias,
        "mean_abs": table.mean_abs,
        "p95_abs": table.p95_abs,
        "within_tolerance": np.round(table.within_tolerance, SHARE_DECIMALS),
        "over_predicted_beyond_tolerance": np.round(table.over_predicted_beyond_tolerance, SHARE_DECIMALS),
        "cost": table.cost,
        "last_age_h": schedules.last_age_h,
        "n_batches": np.asarray(table.n_batches).astype(np.int64),
        "evidence": (table.evidence,) * len(schedules),
        "basis": np.where(table.is_resampled, "resampled", "closed form").tolist(),
        "n_visits": np.asarray(table.n_visits).astype(np.int64),
    }


def _packed(specimens: AnyArray) -> AnyArray:
    """Counts moved together to the left, so that schedules with the same counts share a row pattern."""
    order = np.argsort(specimens == 0, axis=1, kind="stable")
    return np.take_along_axis(specimens, order, axis=1)


def _cells_of(rows: AnyArray, cell: Callable[[list[int]], str]) -> list[str]:
    """One word for each row of whole numbers, none negative; rows alike are worded once."""
    _, first, which = np.unique(_numbered(rows), return_index=True, return_inverse=True)
    words = [cell(row) for row in rows[first].tolist()]
    return [words[at] for at in which.tolist()]


def _numbered(rows: AnyArray) -> IntArray:
    """A number for each row, the same for the same row; column by column, so that it never grows too large."""
    number = np.zeros(len(rows), dtype=np.int64)
    for column in rows.T.astype(np.int64):
        number = number * (int(column.max(initial=0)) + 1) + column
        if number.max(initial=0) > _LARGEST_NUMBER:
            number = np.unique(number, return_inverse=True)[1].astype(np.int64)
    return number


def _joined(parts: Sequence[object], taken: Sequence[int]) -> str:
    return "; ".join(str(part) for part, is_taken in zip(parts, taken, strict=True) if is_taken)


def _looked_up(values: Sequence[Value], word: Callable[[Value], str]) -> list[str]:
    """One word for each value. Rows share few objects, and telling these apart is cheaper than comparing them."""
    objects = dict(zip(map(id, values), values, strict=True))
    words = {key: word(value) for key, value in objects.items()}
    return [words[key] for key in map(id, values)]


def _known(column: Sequence[str] | AnyArray) -> Sequence[Cell]:
    if not isinstance(column, np.ndarray):
        return column
    if not np.issubdtype(column.dtype, np.floating):
        return list(column.tolist())
    return [None if number != number else number for number in _finite(column).tolist()]


def _written(name: str, column: Sequence[str] | AnyArray) -> Sequence[str]:
    """A column as text: one format for the whole of it, split afterwards, is three times faster than cells."""
    if not isinstance(column, np.ndarray):
        return column
    if len(column) == 0:
        return ()
    if not np.issubdtype(column.dtype, np.floating):
        words = {number: str(number) for number in set(column.tolist())}  # counts repeat
        return [words[number] for number in column.tolist()]
    digits = SIGNIFICANT.get(name, SIGNIFICANT_ELSEWHERE)
    numbers = _finite(column)
    text = (f"%.{digits}g\n" * len(numbers)) % tuple(numbers.tolist())
    return text.replace("nan", "").split("\n")[:-1]


def _framed(column: Sequence[str] | AnyArray) -> Sequence[str] | AnyArray:
    if isinstance(column, np.ndarray) and np.issubdtype(column.dtype, np.floating):
        return _finite(column)
    return column


def _finite(column: AnyArray) -> FloatArray:
    """Figures with everything that is not finite as NaN, and no negative nought."""
    numbers = np.asarray(column, dtype=np.float64) + 0.0
    return np.where(np.isfinite(numbers), numbers, np.nan)
