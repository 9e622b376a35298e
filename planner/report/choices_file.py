"""``choices.csv``: every schedule in one row, with its best curve, weighting and constants, best score first.

Ages and specimens are separated by semicolons, so that no field needs a comma: ``6 h; 1 d``, ``3; 3``.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator

from ..terms.labels import age_label
from ..terms.maturity import MaturitySetting
from ..terms.recommendation import ChoiceTable
from ..terms.schedule import Schedule

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
)

Cell = str | float | int | None


def choice_rows(table: ChoiceTable) -> Iterator[tuple[Cell, ...]]:
    """Yield one row a schedule under `COLUMNS`; None where there is no figure."""
    figures = (
        table.score,
        table.rms,
        table.bias,
        table.mean_abs,
        table.p95_abs,
        table.within_tolerance,
        table.over_predicted_beyond_tolerance,
        table.cost,
    )
    figure_rows = zip(*(column.tolist() for column in figures), strict=True)
    for place, (schedule, numbers) in enumerate(zip(table.schedules, figure_rows, strict=True)):
        yield (
            ages_cell(schedule),
            specimens_cell(schedule),
            schedule.n_specimens,
            table.curve[place],
            table.weighting[place],
            maturity_cell(table.maturity[place]),
            *(number if math.isfinite(number) else None for number in numbers),
            schedule.last_age_h,
            int(table.n_batches[place]),
            table.evidence,
            "resampled" if table.is_resampled[place] else "closed form",
        )


def write_choices(table: ChoiceTable) -> str:
    """Write the whole table as comma-separated text with six significant figures."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(
        [f"{cell:.6g}" if isinstance(cell, float) else cell for cell in row] for row in choice_rows(table)
    )
    return stream.getvalue()


def ages_cell(schedule: Schedule) -> str:
    """``6 h; 1 d; 28 d``."""
    return "; ".join(age_label(age) for age in schedule.ages_h)


def specimens_cell(schedule: Schedule) -> str:
    """``3; 3; 2``."""
    return "; ".join(str(count) for count in schedule.specimens)


def maturity_cell(setting: MaturitySetting) -> str:
    """The setting in words, its commas turned into semicolons."""
    return str(setting).replace(", ", "; ")
