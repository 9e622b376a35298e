"""The sweep itself: plans found, read one after the other, and answered a few ahead at a time."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from planner import __version__
from planner.questions.answer import Answer, told_in
from planner.questions.long_runs import crew_for
from planner.questions.recommending import Progress, unseen
from planner.read import load_plan
from planner.read.parsing.quantities import parse_duration
from planner.report.text.refusal_words import refused_in
from planner.resampling.search.executors import Crew, OtherProgramError, Pending, done
from planner.sweeping.kept_rows import KeptRows, row_key, whole_mark
from planner.sweeping.sweep_rows import SweepRow, failed_row, for_targets, row_of, target_label
from planner.sweeping.sweep_table import sweep_csv, sweep_section
from planner.terms.plan.settings import Plan
from planner.terms.plan.shown_as import ShownAs, shown_as, shown_together
from planner.terms.problems import InputError, Problem

TABLE_FILE = "sweep.csv"
SCHEMA = "test-age-planner/sweep/1"


def sweep(
    folder: str | Path,
    *,
    targets: str | None = None,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
    is_outside_allowed: bool = False,
    kept: KeptRows | None = None,
    address: str | None = None,
) -> Answer[tuple[SweepRow, ...]]:
    """Recommend for every plan in a folder, or for one plan file, and put the answers into one table.

    Parameters
    ----------
    folder
        Plans in it and below it, or one plan.
    targets
        Ages like ``"6 h, 12 h, 1 d"``: each plan once for each of these alone. None: for its own targets.
    n_draws, seed, workers, progress
        As in :func:`planner.recommend`.
    is_outside_allowed
        Whether plans may name files outside their own folder.
    kept
        Where finished rows are kept, so that a sweep that was stopped can go on; nowhere where None.
    address
        Of a scheduler whose machines do the work; threads of this machine where None.

    Raises
    ------
    InputError
        Where there is no plan, or a target is no age. What is wrong with a plan becomes its row.
    """
    targets_h = target_ages(targets)
    asked = _Asked(
        tuple(plans_in(Path(folder))),
        targets_h,
        is_outside_allowed=is_outside_allowed,
        n_draws=n_draws,
        seed=seed,
    )
    with crew_for(address, workers) as crew:
        answered = tuple(_worked(asked, kept or KeptRows(None), crew, progress))
    rows = tuple(row for row, _ in answered)
    shown = shown_together(item for _, item in answered)
    return Answer(
        result=rows,
        document={"schema": SCHEMA, "version": __version__, "rows": [asdict(row) for row in rows]},
        sections=told_in(shown, lambda: (sweep_section(rows),)),
        shown=shown,
        files={TABLE_FILE: lambda: sweep_csv(rows).encode("utf-8")},
    )


def target_ages(text: str | None) -> tuple[float, ...]:
    """Read ages like ``"6 h; 1 d"`` [h], rising; none where None.

    Raises
    ------
    InputError
        Where one is no age above 0, or there is none.
    """
    if text is None:
        return ()
    try:
        ages = {parse_duration(part) for part in text.replace(";", ",").split(",") if part.strip()}
    except ValueError as error:
        raise InputError([Problem(file="--targets", text=str(error))]) from error
    if not ages or min(ages) <= 0:
        raise InputError([Problem(file="--targets", text=f"Given {text!r}; name ages above 0, like '6 h, 1 d'.")])
    return tuple(sorted(ages))


@dataclass(frozen=True, slots=True)
class _Asked:
    """What of a sweep does not change from plan to plan."""

    found: tuple[tuple[str, Path], ...]  # name inside the folder, and path
    targets_h: tuple[float, ...]
    is_outside_allowed: bool
    n_draws: int
    seed: int

    @property
    def n_rows(self) -> int:
        return len(self.found) * max(1, len(self.targets_h))

    def plans(self) -> Iterator[tuple[str, Plan | SweepRow, ShownAs]]:
        """Each plan for each target, or the row that says why it cannot be read; with how the plan wants it shown."""
        for name, path in self.found:
            try:
                plan = load_plan(path, allow_outside=self.is_outside_allowed)
            except InputError as error:
                yield name, failed_row(name, error), ShownAs(units=error.units)
                continue
            for aimed in for_targets(plan, self.targets_h):
                yield name, aimed, shown_as(plan.settings, plan.records)


def _worked(asked: _Asked, kept: KeptRows, crew: Crew, progress: Progress) -> Iterator[tuple[SweepRow, ShownAs]]:
    """Rows in the order of the plans, a few ahead at a time, each with how its plan wants it shown."""
    program = whole_mark()
    waiting: deque[tuple[str, Pending, ShownAs]] = deque()
    n_done = 0

    def settled() -> tuple[SweepRow, ShownAs]:
        key, pending, shown = waiting.popleft()
        row: SweepRow = pending.result()
        if key:
            kept.write(key, row)
        progress(n_done + 1, asked.n_rows, "Scoring plans")
        return row, shown

    for name, plan, shown in asked.plans():
        if len(waiting) >= crew.n_ahead():
            yield settled()
            n_done += 1
        if isinstance(plan, SweepRow):
            waiting.append(("", done(plan), shown))
            continue
        key = row_key(name, plan, asked.n_draws, asked.seed)
        row = kept.read(key)
        if row is not None:
            waiting.append(("", done(row), shown))
        else:
            work = crew.submit(score_row, program, name, plan, asked.n_draws, asked.seed)
            waiting.append((key, work, shown))
    while waiting:
        yield settled()
        n_done += 1


def score_row(program: str, name: str, plan: Plan, n_draws: int, seed: int) -> SweepRow:
    """Recommend for one plan; whatever goes wrong with it becomes its row.

    Raises
    ------
    OtherProgramError
        Where the machine runs another version of the program than who asks.
    """
    from planner.pipeline import recommend

    if program != whole_mark():
        raise OtherProgramError("A worker runs another version of the planner. Install the same everywhere.")
    try:
        with refused_in(shown_as(plan.settings, plan.records)):
            return row_of(name, plan, recommend(plan, n_draws=n_draws, seed=seed, workers=1, progress=unseen))
    except Exception as error:
        return failed_row(name, error, target=target_label(plan))


def plans_in(folder: Path) -> list[tuple[str, Path]]:
    if folder.is_file():
        return [(folder.name, folder)]
    found = sorted(
        path
        for path in folder.rglob("*.toml")
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    )
    if not found:
        text = "There is no plan here. Give a folder that holds plans (.toml), or one plan."
        raise InputError([Problem(file=str(folder), text=text)])
    return [(path.relative_to(folder).as_posix(), path) for path in found]
