"""Half of the mixes gives the advice, the other half shows what it was worth; repeated by seed."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from planner.choices.reference_choices import CUSTOMARY_AGES_H
from tests.real_concrete.data import MixSet
from tests.real_concrete.programme import Advice, Chosen, advice_of, candidates_h, run_command, write_programme
from tests.real_concrete.realised import Realised

Progress = Callable[[str], None]
QUANTILE_SHARE = 0.8
N_SPACED = 3  # ages of the evenly spaced rival


@dataclass(frozen=True, slots=True)
class Judged:
    """One half's advice with what it did on the other half. RMS errors are realised, relative, measured."""

    advice: Advice
    hindsight: Chosen
    plain: Chosen
    n_told: int  # mixes the advice came from
    best_rms: float
    recommended_rms: float
    hindsight_rms: float  # of the best choice on the other half itself
    plain_rms: float  # of the lowest mean squared error on the same half, one fit a mix, no correction
    customary_rms: float  # NaN where fewer than two of those ages are there
    youngest_rms: float
    spaced_rms: float
    share_below_p80: float  # of the other half's mixes
    outside_p80: tuple[str, ...]  # the others
    is_bound_kept: bool | None  # by eight in ten of the other half's mixes; None where there is no bound
    bound_over_realised: float | None  # the bound over what eight in ten of them kept


@dataclass(frozen=True, slots=True)
class Case:
    """All splits of one set of mixes at one target."""

    mixes: MixSet
    target_h: float
    judged: tuple[Judged, ...]

    def median(self, name: str) -> float:
        """Median of one figure over the splits."""
        return float(np.median(self.values(name)))

    def values(self, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        """One figure of every split."""
        return np.array([getattr(item, name) for item in self.judged], dtype=np.float64)

    def ratios(self, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        """Realised error over the best in hindsight, for every split."""
        return self.values(name) / self.values("hindsight_rms")

    @property
    def stated_over_realised(self) -> float:
        """Root of mean nested over mean realised squared error of the recommended, both as measured."""
        stated = np.mean([item.advice.nested_rms_measured**2 for item in self.judged])
        return float(np.sqrt(stated / np.mean(self.values("recommended_rms") ** 2)))

    @property
    def share_below_p80(self) -> float:
        return float(np.mean(self.values("share_below_p80")))

    @property
    def share_bound_kept(self) -> float:
        """Of the splits with a bound; NaN without any."""
        kept = [item.is_bound_kept for item in self.judged if item.is_bound_kept is not None]
        return float(np.mean(kept)) if kept else np.nan


def rivals_h(mixes: MixSet, target_h: float) -> dict[str, tuple[float, ...]]:
    """Schedules named beforehand, by what they are called in `Judged`; two ages are the fewest."""
    ages = candidates_h(mixes, target_h)
    places = np.linspace(np.log(ages[0]), np.log(ages[-1]), N_SPACED)
    nearest = sorted({int(np.argmin(np.abs(np.log(ages) - place))) for place in places})
    named = {
        "customary_rms": tuple(age for age in ages if age in CUSTOMARY_AGES_H),
        "youngest_rms": ages[:2],
        "spaced_rms": tuple(ages[i] for i in nearest),
    }
    return {name: schedule for name, schedule in named.items() if len(schedule) >= 2}


def halves(n_mixes: int, seed: int, *, n_told: int | None = None) -> tuple[list[int], list[int]]:
    """Part mixes by seed: those that are told to the command, and the others. Half each where not said."""
    order = [int(i) for i in np.random.default_rng(seed).permutation(n_mixes)]
    cut = n_mixes // 2 if n_told is None else n_told
    return sorted(order[:cut]), sorted(order[cut:])


def judge(realised: Realised, found: Sequence[int], others: Sequence[int]) -> Judged:
    """Take advice through the public command on some mixes and measure it on the others."""
    mixes, target_h = realised.mixes, realised.target_h
    rivals = rivals_h(mixes, target_h)
    with tempfile.TemporaryDirectory() as folder:
        records = [mixes.records[i] for i in found]
        plan = write_programme(Path(folder), mixes, records, target_h, list(dict.fromkeys(rivals.values())))
        advice = advice_of(run_command(plan))
    by_ages = {choice.ages_h: choice for choice in advice.compared}
    rival_rms = {name: realised.rms(by_ages[ages], others) for name, ages in rivals.items()}
    hindsight, plain = realised.lowest(others), realised.lowest(found)
    absolute = np.abs(realised.of(advice.recommended, others))
    recommended_rms = realised.rms(advice.recommended, others)
    bound = advice.quantile_upper_95
    is_outside = absolute > advice.nested_p80_abs
    return Judged(
        advice=advice,
        hindsight=hindsight,
        plain=plain,
        n_told=len(found),
        best_rms=realised.rms(advice.best, others),
        recommended_rms=recommended_rms,
        hindsight_rms=realised.rms(hindsight, others),
        plain_rms=realised.rms(plain, others),
        customary_rms=rival_rms.get("customary_rms", np.nan),
        youngest_rms=rival_rms["youngest_rms"],
        spaced_rms=rival_rms["spaced_rms"],
        share_below_p80=float(np.mean(~is_outside)),
        outside_p80=tuple(mixes.records[others[int(i)]].name for i in np.flatnonzero(is_outside)),
        is_bound_kept=None if bound is None else float(np.mean(absolute <= bound)) >= QUANTILE_SHARE,
        bound_over_realised=None if bound is None else bound / float(np.quantile(absolute, QUANTILE_SHARE)),
    )


def study(sets: Sequence[MixSet], *, n_splits: int, progress: Progress | None = None) -> Iterator[Case]:
    """Every set at every target of its own."""
    for mixes in sets:
        for target_h in mixes.targets_h:
            realised = Realised(mixes, target_h)
            judged = []
            for seed in range(1, n_splits + 1):
                found, others = halves(len(mixes.records), seed)
                judged.append(judge(realised, found, others))
                if progress:
                    progress(f"{mixes.name}, target {target_h / 24:g} d, split {seed} of {n_splits}")
            yield Case(mixes, target_h, tuple(judged))


def learning(
    mixes: MixSet, target_h: float, *, n_told: Sequence[int], n_splits: int, progress: Progress | None = None
) -> Iterator[tuple[int, Case]]:
    """How the advice settles as more mixes are told; judged on all that are left."""
    realised = Realised(mixes, target_h)
    for count in n_told:
        judged = []
        for seed in range(1, n_splits + 1):
            found, others = halves(len(mixes.records), seed, n_told=count)
            judged.append(judge(realised, found, others))
            if progress:
                progress(f"{mixes.name}, target {target_h / 24:g} d, {count} mixes, split {seed} of {n_splits}")
        yield count, Case(mixes, target_h, tuple(judged))
