"""One row of a sweep: a plan, its targets, and what is recommended for them or why nothing is."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields, replace
from functools import lru_cache
from pathlib import Path

from planner.report.documents.recommendation_document import plain_value
from planner.resampling.search.checkpoints import write_whole
from planner.resampling.search.executors import OtherProgramError
from planner.resampling.search.task import PACKAGE, program_mark

from ..terms.labels import age_label, schedule_label
from ..terms.problems import InputError, NoScheduleError
from ..terms.recommendation import Recommendation
from ..terms.settings import Plan
from .boundary import BAD_INPUT, DONE, FAULT, NO_SCHEDULE
from .long_work import say

MOST_PROBLEMS_TOLD = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepRow:
    """A line of the table; figures are relative errors, empty where there are none."""

    plan: str  # path inside the folder
    target: str = ""  # "6 h, 1 d"
    exit: int = DONE  # as the program would have ended for this plan alone
    problem: str = ""
    schedule: str = ""
    n_specimens: int | None = None
    curve: str = ""
    weighting: str = ""
    maturity: str = ""
    rms: float | None = None  # apparent
    nested_rms: float | None = None
    nested_rms_upper_95: float | None = None
    within_tolerance: float | None = None
    within_tolerance_lower_95: float | None = None
    over_predicted_beyond_tolerance: float | None = None
    next_batch_rms: float | None = None
    next_batch_rms_upper_95: float | None = None
    cost: float | None = None
    currency: str = ""
    n_batches: int | None = None
    evidence: str = ""
    cautions: str = ""  # their codes


COLUMNS = tuple(field.name for field in fields(SweepRow))


def for_targets(plan: Plan, targets_h: tuple[float, ...]) -> Iterator[Plan]:
    """The plan once for each target alone; as it stands where none are given."""
    if not targets_h:
        yield plan
    for age_h in targets_h:
        target = replace(plan.settings.target, ages_h=(age_h,), weights=())
        yield replace(plan, settings=replace(plan.settings, target=target))


def target_label(plan: Plan) -> str:
    """``6 h, 1 d``."""
    return ", ".join(age_label(age) for age in plan.settings.target.ages_h)


def score_row(program: str, name: str, plan: Plan, n_draws: int, seed: int) -> SweepRow:
    """Recommend for one plan; whatever goes wrong with it becomes its row.

    Raises
    ------
    OtherProgramError
        Where the machine runs another version of the program than who asks.
    """
    from ..pipeline import recommend

    if program != whole_mark():
        raise OtherProgramError("A worker runs another version of the planner. Install the same everywhere.")
    try:
        return row_of(name, plan, recommend(plan, n_draws=n_draws, seed=seed, workers=1, progress=_unseen))
    except Exception as error:
        return failed_row(name, error, target=target_label(plan))


def _unseen(_done: int, _total: int, _what: str) -> None:
    """The sweep shows how many plans are done, not how far each of them is."""


def row_of(name: str, plan: Plan, told: Recommendation) -> SweepRow:
    """The row of an answer."""
    chosen, own, later = told.recommended, told.honest.own_batch, told.honest.next_batch
    return SweepRow(
        plan=name,
        target=target_label(plan),
        schedule=schedule_label(chosen.schedule),
        n_specimens=sum(chosen.schedule.specimens),
        curve=chosen.curve,
        weighting=chosen.weighting,
        maturity=str(chosen.maturity),
        rms=plain_value(chosen.error.rms),
        nested_rms=plain_value(own.nested_rms) if own else None,
        nested_rms_upper_95=plain_value(own.rms_upper_95) if own else None,
        within_tolerance=plain_value(own.within_tolerance) if own else None,
        within_tolerance_lower_95=plain_value(own.within_tolerance_lower_95) if own else None,
        over_predicted_beyond_tolerance=plain_value(own.over_predicted_beyond_tolerance) if own else None,
        next_batch_rms=plain_value(later.rms) if later else None,
        next_batch_rms_upper_95=plain_value(later.rms_upper_95) if later else None,
        cost=plain_value(chosen.cost),
        currency=told.currency,
        n_batches=told.evidence.n_batches,
        evidence=told.evidence.grade,
        cautions=" ".join(caution.code for caution in told.cautions),
    )


def failed_row(name: str, error: Exception, *, target: str = "") -> SweepRow:
    """The row of a plan that has no answer."""
    if isinstance(error, InputError):
        told = [str(problem) for problem in error.problems[:MOST_PROBLEMS_TOLD]]
        n_more = len(error.problems) - len(told)
        text = " ".join(told) + (f" And {n_more} more; see test-ages check." if n_more else "")
        return SweepRow(plan=name, target=target, exit=BAD_INPUT, problem=text)
    if isinstance(error, NoScheduleError):
        return SweepRow(plan=name, target=target, exit=NO_SCHEDULE, problem=str(error))
    if isinstance(error, MemoryError):
        return SweepRow(plan=name, target=target, exit=FAULT, problem="There is not enough memory for it.")
    text = f"A fault of the program, not of the plan: {type(error).__name__}: {error}"
    return SweepRow(plan=name, target=target, exit=FAULT, problem=text)


class KeptRows:
    """Finished rows on disk, each under the checksum of its inputs, settings and the program."""

    def __init__(self, folder: Path | None, *, is_continued: bool) -> None:
        self.folder = folder
        self._is_continued = is_continued
        self._is_writable = True
        self.n_taken = 0

    def read(self, key: str) -> SweepRow | None:
        """Take a finished row; None where there is none that is whole."""
        if self.folder is None or not self._is_continued:
            return None
        try:
            held = json.loads((self.folder / f"row-{key}.json").read_bytes())
            row = SweepRow(**held) if isinstance(held, dict) else None
        except (OSError, ValueError, TypeError, RecursionError):
            return None
        self.n_taken += row is not None
        return row

    def write(self, key: str, row: SweepRow) -> None:
        """Keep an answer; complaints are quickly found again and may have been corrected."""
        if self.folder is None or row.exit != DONE or not self._is_writable:
            return
        content = json.dumps(asdict(row), allow_nan=False)
        try:
            write_whole(self.folder / f"row-{key}.json", content.encode("utf-8"))
        except OSError as error:
            self._is_writable = False
            say(
                f"Finished rows cannot be kept in {self.folder} ({error.strerror or error}). The sweep goes on; "
                "if it is stopped, --resume goes on from what is kept so far."
            )

    def remove(self) -> None:
        """Clear the folder away when the sweep is done."""
        if self.folder is not None:
            shutil.rmtree(self.folder, ignore_errors=True)


def row_key(name: str, plan: Plan, n_draws: int, seed: int) -> str:
    """A checksum of everything that a row depends on."""
    said = (whole_mark(), name, plan.inputs, plan.settings.target.ages_h, n_draws, seed)
    return hashlib.sha256(repr(said).encode()).hexdigest()[:32]


@lru_cache(maxsize=1)
def whole_mark() -> str:
    """A checksum of the whole program, verdict and wording included."""
    digest = hashlib.sha256(program_mark().encode())
    for path in sorted(PACKAGE.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()
