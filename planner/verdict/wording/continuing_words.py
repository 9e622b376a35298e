"""What is said of a trial batch after its first breaks, and of the tables laid down before casting."""

from __future__ import annotations

from collections.abc import Iterator

from planner.terms.labels import percent, schedule_label
from planner.terms.results.after_casting.continuing import Action, TrialFigures
from planner.terms.schedule import Schedule

LOOK_FOR = "water, admixture, clock, sensor, density and set"
CHANGES_WHEN = (
    "Later breaks are moved only for a gain that the first breaks themselves bring, beyond the immaterial difference "
    "and its own standard error; specimens are added only where the plan would read this batch worse than was stated. "
    "Half of the weight stays with all earlier batches alike, so that one odd break does not throw the plan over."
)


def why_words(trial: TrialFigures, *, currency: str) -> Iterator[str]:
    """Reasons for what is done, in order."""
    batch = trial.batch
    if trial.stranger:
        yield (
            f"Batch {batch} is a stranger to the earlier batches: look for {LOOK_FOR}, and ask the concrete supplier "
            "and the responsible engineer before more is broken. If nothing is wrong, the plan stands as it is."
        )
    elif trial.stranger is None:
        yield (
            f"Whether batch {batch} is like the earlier ones cannot be told from so few of them: only a deficit of "
            f"{percent(trial.noticed_deficit, digits=0)} would be noticed 9 times in 10."
        )
    name, share = max(trial.likeness, key=lambda pair: pair[1])
    yield (
        f"Of the earlier batches {name} is most like it and counts {percent(share, digits=0)}, where all alike would "
        f"count {percent(1 / len(trial.likeness), digits=0)} each."
    )
    yield (
        f"As planned the curve of this batch errs {percent(trial.error_as_planned)} on its own batch (RMS); before the "
        f"breaks {percent(trial.error_before)} stood."
    )
    if trial.action in ("move", "add"):
        yield (
            f"With {_schedule(trial.remaining)} still to break, instead of {_schedule(_rest(trial))}, it errs "
            f"{percent(trial.error_after)}."
        )
    yield _saving(trial, currency)
    yield f"{trial.n_rescored} schedules begin with these breaks and were scored again. {CHANGES_WHEN}"


def _rest(trial: TrialFigures) -> Schedule | None:
    last = max(mean.age_h for mean in trial.broken)
    rest = [(age, n) for age, n in zip(trial.planned.ages_h, trial.planned.specimens, strict=True) if age > last]
    return Schedule(tuple(age for age, _ in rest), tuple(n for _, n in rest)) if rest else None


def _schedule(schedule: Schedule | None) -> str:
    return "nothing" if schedule is None else schedule_label(schedule)


def _saving(trial: TrialFigures, currency: str) -> str:
    """What the change saves of what was still to be broken."""
    rest, remaining = _rest(trial), trial.remaining
    less = (0 if rest is None else rest.n_specimens) - (0 if remaining is None else remaining.n_specimens)
    text = "Specimens still to break: " + (
        "as many as planned" if less == 0 else f"{abs(less)} {'fewer' if less > 0 else 'more'} than planned"
    )
    if trial.cost_change is not None and round(trial.cost_change):
        text += f", {abs(trial.cost_change):.0f} {currency} {'less' if trial.cost_change < 0 else 'more'}"
    return text + "."


def band_words(action: Action, *, remaining: Schedule | None = None, is_pour: bool = False) -> str:
    """What is done in a band of first means."""
    if action == "stop":
        return f"stop: look for {LOOK_FOR}; ask before more is broken"
    if is_pour:
        return {
            "go on": "go on, and read the pour",
            "add": "break one specimen more at the last early age before it is read",
            "move": "too weak to tell: break again later, and read from that",
        }[action]
    if action == "go on":
        return "go on as planned"
    verb = "add specimens" if action == "add" else "move the later breaks"
    return f"{verb}, for instance {_schedule(remaining)}"
