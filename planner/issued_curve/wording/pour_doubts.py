"""What in the early breaks of one pour looks like a slip in the file, one caution each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.issued_curve.pour_answer import EarlyCell
from planner.mixed_model import LevelTest
from planner.terms.labels import age_label, ages_label, percent
from planner.terms.plan.early_breaks import Pours
from planner.terms.problems import Caution
from planner.terms.records import Break
from planner.terms.results.after_casting.pour_model import TrialMean

NEAR = 0.02  # ages closer than this share are one
SAME = 1e-6  # two batches never agree so well in strength and maturity


def pour_doubts(
    file: str, breaks: Sequence[Break], early: Sequence[EarlyCell], level: LevelTest | None, pours: Pours | None
) -> Iterator[Caution]:
    """Doubts about the early breaks of one pour.

    Parameters
    ----------
    file
        For messages.
    level
        How strong the early means are beside what is expected of them; None: the pour is a stranger, nothing is read.
    pours
        Early breaks as the plan foresees them; None: it does not say.
    """
    if level is not None and level.is_strong:
        yield Caution(
            "pour-too-strong",
            f"{file}: the early breaks are {percent(level.excess, digits=0)} stronger than the earlier batches and "
            f"the trial batch let one expect; sound pours pass {percent(level.limit, digits=0)} once in a hundred "
            "times. The pour is read by them. See whether unit, area, age, curing temperature and batch of these "
            "specimens are right, and correct or void the rows; where they are, confirm by another test before "
            "anything rests on it.",
        )
    ages = [] if pours is None else list(pours.early_ages_h)
    others = [cell.age_h for cell in early if ages and not any(abs(cell.age_h / age - 1.0) <= NEAR for age in ages)]
    if others:
        yield Caution(
            "early-age-not-planned",
            f"{file} has early breaks at {ages_label(others)}, the plan ([pours] early_ages) {ages_label(ages)}: the "
            "errors stated are those of the planned ages. Correct the age where it is a slip.",
        )
    asked = sorted({item.required_mpa for item in breaks if item.required_mpa is not None})
    if asked:
        listed = ", ".join(f"{mpa:.3g}" for mpa in asked)
        yield Caution(
            "required-not-judged",
            f"{file} has required strengths ({listed} MPa), which reading a pour does not judge: hold "
            "the safe reading against them yourself.",
        )
    cast = {item.cast_us for item in breaks if item.cast_us is not None}
    if len(cast) > 1:
        first = next(item for item in breaks if item.cast_us is not None)
        other = next(item for item in breaks if item.cast_us not in (None, first.cast_us))
        yield Caution(
            "several-castings",
            f"{file}: the breaks of {first.batch} have {len(cast)} casting times (rows {first.row} and {other.row}). "
            f"One pour is read: correct the time, or leave out what was cast apart, like that at "
            f"{age_label(other.age_h)}.",
        )


def trial_copies(file: str, early: Sequence[EarlyCell], trials: Sequence[Sequence[TrialMean]]) -> Iterator[Caution]:
    """Early means that are those of a trial batch: its breaks under the name of a pour.

    Parameters
    ----------
    trials
        Means of each trial batch, as the curve carries them.
    """
    for means in trials:
        same = [
            cell
            for cell in early
            if any(
                abs(mean.mean_mpa - cell.mean_mpa) <= SAME * cell.mean_mpa
                and abs(mean.maturity_h - cell.maturity_h) <= SAME * cell.maturity_h
                for mean in means
            )
        ]
        if same:
            yield Caution(
                "pour-is-trial",
                f"{file}: strength and maturity at {ages_label([cell.age_h for cell in same])} are those of a trial "
                "batch of this curve to the last digit. Give the breaks of the pour; a batch that the curve has seen "
                "proves nothing.",
            )
