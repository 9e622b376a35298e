"""What breaks say of each other: batches under two names, in another unit, ages that cannot be true.

Refused is what cannot be meant; what may be meant is cautioned, with the edit that would put it right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import fmean, median

from planner.read.breaks.doubts.copied_batches import bare_name, report_copies
from planner.read.breaks.doubts.odd_batches import check_odd_batches
from planner.read.breaks.doubts.other_batches import Cell, Held, OtherBatches
from planner.read.breaks.doubts.repeated_rows import note_equal_at_an_age, note_repeated_rows
from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, listed
from planner.terms.records import Break
from planner.units import HOURS_PER_DAY

# Bounds below: common practice, no source.
FALLS_TO = 0.8  # of the strength at the younger age, where the age is refused: no concrete does it
DOUBTED_FALL = 0.88  # and where it is cautioned: more than scatter; see `tests/read/slips/test_false_alarms.py`
WEAK_TOP_MPA = 12.0  # strongest of all breaks, three days old or more
STRONG_TOP_MPA = 200.0
OLD_ENOUGH_H = 72.0
UNLIKE = 5.0  # times stronger or weaker than other batches at the same age
NEAR_FACTOR = 1.7  # batches of one mix differ by less among each other
FEWEST_SHARED = 2  # ages that a batch must share with others before its unit is judged
CUSTOMARY_DAYS = frozenset((7.0, 14.0, 21.0, 28.0, 56.0, 90.0, 91.0))
FACTORS = (  # a batch so many times as strong as the others is given in the unit beside it
    (1 / 6.895, "ksi", "multiply its strengths by 6.895"),
    (10.197, "kgf/cm2", "divide its strengths by 10.197"),
    (145.04, "psi", "divide its strengths by 145.04"),
    (0.1, "a decimal point too far left", "move the decimal point of its strengths"),
)


def check_doubts(file: str, column: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Look for what a careful reader would ask about.

    Parameters
    ----------
    column
        Of the ages, for messages.
    """
    cells = _cells(breaks)
    n_before = len(findings.problems)
    _report_names(file, breaks, findings)
    others_of = _others_of(breaks, cells)
    _report_units(file, cells, others_of, findings)
    _report_falls(file, column, breaks, findings)
    report_copies(file, breaks, findings)
    if len(findings.problems) == n_before and cells:
        check_odd_batches(file, cells, findings)
        _note_top(file, breaks, findings)
        _note_unlike(file, cells, others_of, findings)
        note_repeated_rows(file, breaks, findings)
        note_equal_at_an_age(file, breaks, findings)


def check_between_files(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    """The same for what two files may hold of each other's batches."""
    _report_names(file, breaks, findings)
    report_copies(file, breaks, findings)


def note_pooled_mixes(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Caution where batches of several mixes stand in for one another."""
    batches: dict[str, set[str]] = defaultdict(set)
    for item in breaks:
        batches[item.mix].add(item.batch)
    if len(batches) > 1:
        counts = listed(f"{mix or 'not stated'}: {listed(sorted(held), most=4)}" for mix, held in batches.items())
        findings.caution(
            "mixes-pooled",
            f"{file} holds batches of {len(batches)} mixes ({counts}), and every batch is judged by all others. "
            'Remove those of other mixes, or set hold_out = "mix" in [prior] where the advice is for a new mix.',
        )


def _cells(breaks: Sequence[Break]) -> dict[str, dict[Cell, list[Break]]]:
    cells: dict[str, dict[Cell, list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in breaks:
        cells[item.batch][item.curing, item.age_h].append(item)
    return cells


def _others_of(breaks: Sequence[Break], cells: Mapping[str, Held]) -> dict[str, OtherBatches]:
    """For every batch, those of its mix."""
    mix_of = {item.batch: item.mix for item in breaks}
    alike: dict[str, dict[str, Held]] = defaultdict(dict)
    for batch, held in cells.items():
        alike[mix_of[batch]][batch] = held
    of_mix = {mix: OtherBatches(batches) for mix, batches in alike.items()}
    return {batch: of_mix[mix_of[batch]] for batch in cells}


def _mean(items: Sequence[Break]) -> float:
    return fmean(item.strength_mpa for item in items)


def _rows(items: Sequence[Break]) -> str:
    return listed(item.row for item in items)


def _report_names(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    first: dict[str, Break] = {}
    offenders: list[tuple[int, str]] = []
    texts: set[str] = set()
    for item in breaks:
        earlier = first.setdefault(bare_name(item.batch), item)
        if earlier.batch != item.batch and item.batch not in texts:
            texts.add(item.batch)
            offenders.append(
                (
                    item.row or 0,
                    f'"{item.batch}" and "{earlier.batch}" (row {earlier.row}) differ only in spaces or capitals, '
                    "signs or letters that look alike. Write one name where they are one batch; name them further "
                    "apart where they are two.",
                )
            )
    findings.rows(file, "batch", offenders)


def report_two_mixes(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Refuse a batch after the plan whose rows name two mixes: it has one recipe."""
    first: dict[str, Break] = {}
    for item in breaks:
        if item.mix:
            first.setdefault(item.batch, item)
    findings.rows(
        file,
        "mix",
        (
            (
                item.row or 0,
                f'Batch "{item.batch}" is of mix "{item.mix}" here and "{first[item.batch].mix}" in row '
                f"{first[item.batch].row}. A batch has one recipe: correct the mix or the batch.",
            )
            for item in breaks
            if item.mix and item.mix != first[item.batch].mix
        ),
    )


def _report_units(
    file: str, cells: Mapping[str, Held], others_of: Mapping[str, OtherBatches], findings: Findings
) -> None:
    """Refuse a batch that is so many times as strong as others of its mix, at every age, as two units differ."""
    offenders: list[tuple[int, str]] = []
    for batch, held in cells.items():
        others = others_of[batch]
        ratios = others.ratios(batch)
        if len(ratios) < FEWEST_SHARED or others.n_others < FEWEST_SHARED:
            continue
        found = next(
            (
                (unit, edit)
                for factor, unit, edit in FACTORS
                if all(1 / NEAR_FACTOR < ratio / factor < NEAR_FACTOR for ratio in ratios)
            ),
            None,
        )
        if found is not None:
            items = next(iter(held.values()))
            offenders.append(
                (
                    items[0].row or 0,
                    f'Batch "{batch}" has {median(ratios):.3g} times the strength of the other batches at every age '
                    f"({_mean(items):.4g} MPa in row {items[0].row}). Is it in {found[0]}? Then {found[1]}.",
                )
            )
    findings.rows(file, "strength", offenders)


def _report_falls(file: str, column: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Refuse customary ages in days that stand as hours, by their strength; caution of other falls."""
    courses: dict[tuple[str, str, str], dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in breaks:
        courses[item.batch, item.curing, item.placement][item.age_h].append(item)
    falls: dict[float, list[tuple[list[Break], list[Break]]]] = defaultdict(list)
    n_holders: dict[float, int] = defaultdict(int)
    for course in courses.values():
        for younger, older in pairwise(sorted(course)):
            n_holders[younger] += 1
            if _mean(course[older]) < DOUBTED_FALL * _mean(course[younger]):
                falls[younger].append((course[younger], course[older]))
    others: list[str] = []
    for age_h, pairs in falls.items():
        grave = [pair for pair in pairs if _mean(pair[1]) < FALLS_TO * _mean(pair[0])]
        if age_h in CUSTOMARY_DAYS and grave and 2 * len(grave) >= n_holders[age_h]:
            young = grave[0][0]
            findings.problem(
                file,
                f'Batch "{young[0].batch}" has {_fall(*grave[0])}; so it is in {len(grave)} of {n_holders[age_h]} '
                f"batches. Are these {age_h:g} d? Then write {HOURS_PER_DAY * age_h:g} h.",
                row=young[0].row,
                column=column,
            )
        else:
            others += [f"{young[0].batch} {young[0].curing}: {_fall(young, old)}" for young, old in pairs]
    if others:
        findings.caution(
            "strength-falls",
            f"{file}: strength falls with age, which concrete does not do: {listed(others, most=4)}. Correct the age, "
            "the batch or the strength of these rows, or void them with the reason.",
        )


def _fall(young: Sequence[Break], old: Sequence[Break]) -> str:
    return (
        f"{_mean(young):.4g} MPa at {young[0].age_h:g} h (rows {_rows(young)}) but {_mean(old):.4g} MPa at "
        f"{old[0].age_h:g} h (rows {_rows(old)})"
    )


def _note_top(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    old = [item for item in breaks if item.age_h >= OLD_ENOUGH_H]
    if not old:
        return
    top = max(old, key=lambda item: item.strength_mpa)
    mpa = top.strength_mpa
    if mpa < WEAK_TOP_MPA:
        findings.caution(
            "strengths-weak",
            f"{file}: the strongest break is {mpa:.3g} MPa, at {age_label(top.age_h)} (row {top.row}), which few "
            f"concretes are. In ksi it would be {6.895 * mpa:.3g} MPa: name the column strength_ksi where it is that.",
        )
    elif mpa > STRONG_TOP_MPA:
        findings.caution(
            "strengths-strong",
            f"{file}: the strongest break is {mpa:.3g} MPa (row {top.row}), which few concretes reach. In kgf/cm2 it "
            f"would be {mpa / 10.197:.3g} MPa: give MPa where that is meant.",
        )


def _note_unlike(
    file: str, cells: Mapping[str, Held], others_of: Mapping[str, OtherBatches], findings: Findings
) -> None:
    """Caution of cells far from those of other batches: a slipped point, another mix, another age."""
    texts: list[str] = []
    for batch, held in cells.items():
        others = others_of[batch]
        for cell, items in held.items():
            if others.n_having(cell, batch) < FEWEST_SHARED:
                continue
            usual_mpa = others.median_mpa(cell, batch)
            if not 1 / UNLIKE < _mean(items) / usual_mpa < UNLIKE:
                texts.append(
                    f"{batch} {cell[0]} {age_label(cell[1])}: {_mean(items):.3g} MPa, others {usual_mpa:.3g} MPa "
                    f"(rows {_rows(items)})"
                )
    if texts:
        findings.caution(
            "unlike-other-batches",
            f"{file}: strengths more than {UNLIKE:g} times those of other batches, or less than a fifth: "
            f"{listed(texts, most=4)}. Correct the decimal point, the age or the batch where one has slipped.",
        )
