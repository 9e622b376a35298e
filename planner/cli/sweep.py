"""``test-ages sweep``: many plans, or one over many targets, into one table."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from .long_work import check_resumable, crew_for, how_to_go_on, say
from .options import Computing, LongWork, argument, text

if TYPE_CHECKING:
    from planner.resampling.search.executors import Crew, Pending

    from ..terms.settings import Plan
    from .screen import Progress
    from .sweep_rows import KeptRows, SweepRow

TABLE_FILE = "sweep.csv"
SCHEMA = "test-age-planner/sweep/1"


Folder = Annotated[Path, argument("FOLDER", "Plans in it and below it, or one plan.")]
TargetAges = Annotated[
    str | None,
    text("--targets", "AGES", 'Each plan once for each of these targets alone, like "6 h, 12 h, 1 d, 28 d".'),
]


def sweep(folder: Folder, computing: Computing, long_work: LongWork, targets_text: TargetAges = None) -> int:
    """Recommend for every plan in FOLDER (or for one plan file) and put the answers into one table.

    A plan that cannot be used gets a line with the reason; the others go on. The exit code is 0 where every
    plan has an answer, else the first other one.
    """
    from planner.report.documents.folder import check_folder, write_files
    from planner.resampling.search.checkpoints import FOLDER

    from .screen import say_written, shown_progress
    from .sweep_rows import KeptRows
    from .sweep_table import sweep_csv

    out = computing.out
    check_resumable(out, is_resumed=long_work.is_resumed)
    targets_h = _targets(targets_text)
    plans = _plans_in(folder)
    if out is not None:
        check_folder(out)
    kept = KeptRows(out / FOLDER if out is not None else None, is_continued=long_work.is_resumed)
    with how_to_go_on(kept.folder):
        with crew_for(long_work.address, computing.workers) as crew, shown_progress() as progress:
            asked = _Asked(
                plans,
                targets_h,
                allow_outside=computing.is_outside_allowed,
                n_draws=computing.n_draws,
                seed=computing.seed,
            )
            rows = list(_worked(asked, kept, crew, progress))
        if kept.n_taken:
            say(f"{kept.n_taken} of {len(rows)} rows were finished by an earlier run.")
        try:
            if out is not None:
                say_written(write_files(out, {TABLE_FILE: sweep_csv(rows).encode("utf-8")}))
                kept.remove()
        finally:  # a full disk must not cost the reader the answer
            _print(rows, is_json=computing.is_json)
    return next((row.exit for row in rows if row.exit), 0)


class _Asked:
    """The plans of a sweep, read one after the other."""

    def __init__(
        self,
        plans: list[tuple[str, Path]],
        targets_h: tuple[float, ...],
        *,
        allow_outside: bool,
        n_draws: int,
        seed: int,
    ) -> None:
        self._plans = plans
        self._targets_h = targets_h
        self._allow_outside = allow_outside
        self.n_draws, self.seed = n_draws, seed
        self.n_rows = len(plans) * max(1, len(targets_h))

    def plans(self) -> Iterator[tuple[str, Plan | SweepRow]]:
        """Each plan for each target, or the row that says why it cannot be read."""
        from ..read import load_plan
        from ..terms.problems import InputError
        from .sweep_rows import failed_row, for_targets

        for name, path in self._plans:
            try:
                plan = load_plan(path, allow_outside=self._allow_outside)
            except InputError as error:
                yield name, failed_row(name, error)
                continue
            for aimed in for_targets(plan, self._targets_h):
                yield name, aimed


def _worked(asked: _Asked, kept: KeptRows, crew: Crew, progress: Progress) -> Iterator[SweepRow]:
    """Rows in the order of the plans, a few ahead at a time."""
    from planner.resampling.search.executors import done

    from .sweep_rows import SweepRow, row_key, score_row, whole_mark

    program = whole_mark()
    waiting: deque[tuple[str, Pending]] = deque()
    n_done = 0

    def settled() -> SweepRow:
        key, pending = waiting.popleft()
        row: SweepRow = pending.result()
        if key:
            kept.write(key, row)
        progress(n_done + 1, asked.n_rows, "Scoring plans")
        return row

    for name, plan in asked.plans():
        if len(waiting) >= crew.n_ahead():
            yield settled()
            n_done += 1
        if isinstance(plan, SweepRow):
            waiting.append(("", done(plan)))
            continue
        key = row_key(name, plan, asked.n_draws, asked.seed)
        row = kept.read(key)
        if row is not None:
            waiting.append(("", done(row)))
        else:
            work = crew.submit(score_row, program, name, plan, asked.n_draws, asked.seed)
            waiting.append((key, work))
    while waiting:
        yield settled()
        n_done += 1


def _plans_in(folder: Path) -> list[tuple[str, Path]]:
    from ..terms.problems import InputError, Problem

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


def _targets(text: str | None) -> tuple[float, ...]:
    from planner.read.parsing.quantities import parse_duration

    if text is None:
        return ()
    try:
        ages = {parse_duration(part) for part in text.replace(";", ",").split(",") if part.strip()}
    except ValueError as error:
        raise typer.TyperException(f"--targets: {error}") from error
    if not ages or min(ages) <= 0:
        raise typer.TyperException(f"--targets: given {text!r}; name ages above 0, like '6 h, 1 d'.")
    return tuple(sorted(ages))


def _print(rows: list[SweepRow], *, is_json: bool) -> None:
    if is_json:
        from planner.report.documents.recommendation_document import write_json

        from .. import __version__

        document = {"schema": SCHEMA, "version": __version__, "rows": [asdict(row) for row in rows]}
        typer.echo(write_json(document), nl=False)
        return
    from planner.report.screens.terminal import print_sections

    from .screen import result_console
    from .sweep_table import sweep_section

    print_sections((sweep_section(rows),), result_console())
