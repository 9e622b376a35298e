"""Ages of a plan that nobody has broken while the same number in the other unit was: hours for days or the reverse."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from planner.terms.labels import age_label
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution
from planner.terms.records import Break
from planner.units import HOURS_PER_DAY

ALIKE = 0.02  # ages closer than this share are one
LEAST_SHARE = 0.5  # of the batches that must have the age in the other unit; common practice, no source


def age_doubts(file: str, settings: Settings, breaks: Sequence[Break]) -> tuple[Caution, ...]:
    """What a reader of plan and records together would ask about; nothing where there are no breaks."""
    target = settings.target
    asked = [age for age, mpa in zip(target.ages_h, target.waits_mpa, strict=True) if mpa is None]
    texts = [*_of("target.ages", asked, breaks), *_of("choices.ages", settings.choices.ages_h, breaks)]
    return tuple(Caution("plan-value", f"{file}, {text}") for text in texts)


def _of(key: str, ages_h: Sequence[float], breaks: Sequence[Break]) -> list[str]:
    batches: dict[float, set[str]] = defaultdict(set)
    for item in breaks:
        batches[item.age_h].add(item.batch)
    n_batches = len({item.batch for item in breaks})
    texts = []
    for age_h in ages_h:
        if _near(age_h, batches):
            continue
        others = {"h": age_h / HOURS_PER_DAY, "d": age_h * HOURS_PER_DAY}
        for unit, other_h in others.items():
            if _near(other_h, ages_h):
                continue  # both stand there, so neither is a slip
            n_held = len(set().union(*(held for at, held in batches.items() if _near(other_h, (at,)))))
            if n_held >= max(1.0, LEAST_SHARE * n_batches):
                number = other_h if unit == "h" else other_h / HOURS_PER_DAY
                unit_name = "hours" if unit == "h" else "days"
                texts.append(
                    f"{key}: nobody has broken {age_label(age_h)}, but {n_held} of {n_batches} batches were broken at "
                    f'{number:g} {unit}. Were {unit_name} meant? Then write "{number:g} {unit}".'
                )
    return texts


def _near(age_h: float, ages_h: Iterable[float]) -> bool:
    return any(abs(age_h / other - 1.0) <= ALIKE for other in ages_h)
