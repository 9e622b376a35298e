"""Why breaks after the plan cannot be held against the curve they are given for, each with its row and the edit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.maturity.implied_temperature import implied_temperature_c
from planner.terms.labels import age_label, listed
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Problem
from planner.terms.records import Break

# What concrete that hardens averages over its age, heated or not (common practice, no source).
COLDEST_MEAN_C, HOTTEST_MEAN_C = -10.0, 80.0
MOST_ROWS = 8  # that are listed in one message


def given_faults(file: str, breaks: Sequence[Break], curve: IssuedCurve) -> list[Problem]:
    """Breaks of another mix or geometry than the curve's, and maturities that are none.

    Parameters
    ----------
    breaks
        Standard-cured and site-cured ones, converted where the curve converts.
    """
    return [
        *_of_another_mix(file, breaks, curve),
        *(() if curve.conversion is not None else _of_another_geometry(file, breaks, curve)),
        *maturity_faults(file, breaks, curve.maturity),
    ]


def maturity_faults(file: str, breaks: Sequence[Break], setting: MaturitySetting) -> Iterator[Problem]:
    """Maturities of a file that no concrete has at its age: another unit, or another column."""
    unit, per_hour = maturity_unit(setting)
    wrong: dict[bool, list[tuple[Break, float]]] = {True: [], False: []}
    for item in breaks:
        if item.maturity is None:
            continue
        mean_c = implied_temperature_c(item.maturity / per_hour, item.tested_h, setting)
        if mean_c is not None and not COLDEST_MEAN_C <= mean_c <= HOTTEST_MEAN_C:
            wrong[mean_c > HOTTEST_MEAN_C].append((item, mean_c))
    for found in wrong.values():
        if found:
            item, mean_c = found[0]
            yield Problem(
                file,
                f"The maturity is {item.maturity:g} at {age_label(item.age_h)}, for which the concrete would have "
                f"averaged {_shown_c(mean_c)}. Give it in {unit} of the curve's clock ({setting}): see whether it is "
                f"in minutes or days, or of another maturity function{_in_rows([each for each, _ in found])}.",
                row=item.row,
                column="maturity",
            )


def not_rising(file: str, cells: Sequence[tuple[Break, float]]) -> Iterator[Problem]:
    """Cells of one pour in one place whose maturity does not rise with age.

    Parameters
    ----------
    cells
        A break of every cell with the cell's maturity [h at the reference temperature].
    """
    courses: dict[tuple[str, str, str], list[tuple[Break, float]]] = defaultdict(list)
    for item, maturity_h in cells:
        courses[item.batch, item.curing, item.placement].append((item, maturity_h))
    for course in courses.values():
        for (young, before), (old, after) in pairwise(sorted(course, key=lambda cell: cell[0].age_h)):
            if after < before or (after == before and old.maturity is not None):  # frozen concrete may gain nothing
                yield Problem(
                    file,
                    f'"{old.batch}" has no more maturity at {age_label(old.age_h)} ({after:.4g} h at the reference '
                    f"temperature) than at {age_label(young.age_h)} ({before:.4g}, row {young.row}). Correct the "
                    "temperatures, the maturities or the ages.",
                    row=old.row,
                )


def not_read(file: str, cells: Sequence[tuple[Break, float]], curve: IssuedCurve) -> Iterator[Problem]:
    """Cells at maturities at which the curve reads no strength: it begins later.

    Parameters
    ----------
    cells
        As in :func:`not_rising`.
    """
    for item, maturity_h in cells:
        if not curve.read(maturity_h) > 0:
            yield Problem(
                file,
                f'"{item.batch}" broke at {item.strength_mpa:.4g} MPa at {age_label(item.age_h)}, where its maturity '
                f"is {maturity_h:.4g} h at the reference temperature and the curve reads no strength yet (it begins "
                f"at {curve.span_h[0]:.4g} h). Correct the unit of the age or of the maturity, or leave the row out.",
                row=item.row,
            )


def _of_another_mix(file: str, breaks: Sequence[Break], curve: IssuedCurve) -> Iterator[Problem]:
    found: dict[str, list[Break]] = defaultdict(list)
    for item in breaks:
        if curve.mix and item.mix and item.mix != curve.mix:
            found[item.mix].append(item)
    for mix, items in found.items():
        yield Problem(
            file,
            f'"{items[0].batch}" is of the mix "{mix}", the curve is for "{curve.mix}". Correct the name, or give '
            f"pours of that mix alone{_in_rows(items)}.",
            row=items[0].row,
            column="mix",
        )


def _of_another_geometry(file: str, breaks: Sequence[Break], curve: IssuedCurve) -> Iterator[Problem]:
    shapes = sorted({item.geometry for item in breaks if item.geometry})
    wanted = curve.geometry or (shapes[0] if len(shapes) > 1 else "")
    found: dict[str, list[Break]] = defaultdict(list)
    for item in breaks:
        if wanted and item.geometry and item.geometry != wanted:
            found[item.geometry].append(item)
    for shape, items in found.items():
        of_curve = f"those of the curve {curve.geometry}" if curve.geometry else f"others {wanted}"
        yield Problem(
            file,
            f"The specimens are {shape}, {of_curve}. Nothing is converted: break the geometry of the curve, or correct "
            f"it{_in_rows(items)}.",
            row=items[0].row,
            column="geometry",
        )


def _shown_c(mean_c: float) -> str:
    return f"{mean_c:.0f} C" if abs(mean_c) < 1000.0 else "more than 1000 C"


def _in_rows(items: Sequence[Break]) -> str:
    """The rows after the first, for the end of a sentence."""
    if len(items) == 1:
        return ""
    return f"; the same in rows {listed((item.row for item in items[1:]), most=MOST_ROWS)}"
