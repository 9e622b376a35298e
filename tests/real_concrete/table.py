"""The study in words and one table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np

from tests.real_concrete.data import HOURS_PER_DAY
from tests.real_concrete.realised import Realised
from tests.real_concrete.study import Case, halves

_HEAD = (
    "ages [d]", "target", "mixes", "hindsight", "best", "recommended", "plain", "customary", "two youngest",
    "spaced", "best / hindsight", "plain / hindsight", "stated / realised", "80 % below", "of others", "bound kept",
)  # fmt: skip
_RMS = (
    "hindsight_rms", "best_rms", "recommended_rms", "plain_rms", "customary_rms", "youngest_rms", "spaced_rms",
)  # fmt: skip
EXPLAINED = """\
Half of the mixes of a row were told to `test-ages recommend PLAN --json`, the advice was measured on the other
half: {n_splits} splits by seed. RMS errors in % of the measured strength, medians over the splits. hindsight: the
best choice on the other half itself; plain: lowest mean squared error on the told half, one fit a mix, nothing
corrected; customary: 1, 3, 7, 14 and 28 d where there; spaced: three ages evenly in log age; these three take the
curve that served them best in the told half. Ratios: mean (median) over the splits. stated / realised: root of
mean nested over mean realised squared error of the recommended, both as measured. 80 % below: the stated quantile
of nested absolute errors, and the share of the other half's mixes that kept it. bound kept: share of splits in which
eight in ten of the other half's mixes stayed below the stated 95 % bound on that quantile; -: too few were told."""


def main_table(cases: Sequence[Case]) -> str:
    """One row for every set and target, as a Markdown table, with the mean ratios below."""
    lines = [_row(_HEAD), _row(["---"] * len(_HEAD))]
    lines += [_row(_cells(case)) for case in cases]
    best, plain = mean_ratio(cases, "best_rms"), mean_ratio(cases, "plain_rms")
    lines.append("")
    lines.append(
        f"Mean ratio over the {len(cases)} rows: best {best:.3f}, plain {plain:.3f}, best over plain "
        f"{best / plain:.3f}; recommended {mean_ratio(cases, 'recommended_rms'):.3f}."
    )
    return "\n".join(lines)


def _cells(case: Case) -> list[str]:
    return [
        case.mixes.name.removesuffix(" d"),
        _days(case.target_h),
        str(len(case.mixes.records)),
        *(_percent(case.median(name)) for name in _RMS),
        _mean_and_median(case, "best_rms"),
        _mean_and_median(case, "plain_rms"),
        f"{case.stated_over_realised:.2f}",
        _percent(float(np.median([item.advice.nested_p80_abs for item in case.judged]))),
        f"{100 * case.share_below_p80:.0f} %",
        _kept(case),
    ]


def _kept(case: Case) -> str:
    share = case.share_bound_kept
    return "-" if np.isnan(share) else f"{100 * share:.0f} %"


def mean_ratio(cases: Iterable[Case], name: str) -> float:
    """Mean over rows of the mean ratio to the best in hindsight."""
    return float(np.mean([np.mean(case.ratios(name)) for case in cases]))


def curve_lines(cases: Iterable[Case]) -> Iterable[str]:
    """Which curve and ages were best, as told and in hindsight."""
    for case in cases:
        n = len(case.judged)
        stated = Counter(item.advice.best.curve for item in case.judged)
        known = Counter(item.hindsight.curve for item in case.judged)
        ages = Counter(item.advice.recommended.ages_h for item in case.judged).most_common(2)
        yield (
            f"{case.mixes.name}, target {_days(case.target_h)}: best curve told {_shares(stated, n)}; in hindsight "
            f"{_shares(known, n)}; recommended ages "
            + ", ".join(f"{_schedule(found)} ({100 * count / n:.0f} %)" for found, count in ages)
        )


def late_age_lines(cases: Iterable[Case]) -> Iterable[str]:
    """What ages later than the first one after the target add, chosen plainly on the told half."""
    for case in cases:
        later = [age for age in case.mixes.ages_h if age > case.target_h]
        if len(later) < 2:
            continue
        realised = Realised(case.mixes, case.target_h)
        with_late, without = [], []
        for seed in range(1, len(case.judged) + 1):
            found, others = halves(len(case.mixes.records), seed)
            with_late.append(realised.rms(realised.lowest(found), others))
            without.append(realised.rms(realised.lowest(found, latest_h=later[0]), others))
        yield (
            f"{case.mixes.name}, target {_days(case.target_h)}: {_percent(float(np.median(with_late)))} % with all "
            f"ages, {_percent(float(np.median(without)))} % with none after {_days(later[0])}"
        )


def outlying_lines(cases: Iterable[Case]) -> Iterable[str]:
    """Mixes that most often fell outside the stated 80 % quantile while they were left out."""
    for case in cases:
        outside = Counter(name for item in case.judged for name in item.outside_p80).most_common(4)
        yield (
            f"{case.mixes.name}, target {_days(case.target_h)}: "
            + ", ".join(f"{name} in {count} of {len(case.judged)} splits" for name, count in outside)
        )


def learning_table(found: Iterable[tuple[int, Case]]) -> str:
    """Ratios to the best in hindsight as more mixes are told."""
    head = ("target", "mixes told", "best", "recommended", "plain", "stated / realised", "kept 80 %", "bound kept")
    lines = [_row(head), _row(["---"] * len(head))]
    lines += [
        _row(
            [
                _days(case.target_h),
                str(n_told),
                *(_mean_and_median(case, name) for name in ("best_rms", "recommended_rms", "plain_rms")),
                f"{case.stated_over_realised:.2f}",
                f"{100 * case.share_below_p80:.0f} %",
                _kept(case),
            ]
        )
        for n_told, case in found
    ]
    return "\n".join(lines)


def _schedule(ages_h: Sequence[float]) -> str:
    return "+".join(f"{age / HOURS_PER_DAY:g}" for age in ages_h) + " d"


def _mean_and_median(case: Case, name: str) -> str:
    ratios = case.ratios(name)
    return f"{np.mean(ratios):.2f} ({np.median(ratios):.2f})"


def _shares(counts: Counter[str], n: int) -> str:
    return ", ".join(f"{name} {100 * count / n:.0f} %" for name, count in counts.most_common(3))


def _days(age_h: float) -> str:
    return f"{age_h / HOURS_PER_DAY:g} d"


def _percent(share: float) -> str:
    return f"{100 * share:.1f}"


def _row(values: Iterable[str]) -> str:
    return "| " + " | ".join(values) + " |"
