"""What is said of early breaks, in sentences."""

from __future__ import annotations

from planner.terms.labels import age_label, percent, trial_batches_label
from planner.terms.plan.settings import Settings
from planner.terms.results.after_casting.early_answer import ChosenAnew, EarlyBreakRow

SAME_MATERIALS = (
    "Reading from the records serves while cement, admixture and aggregate are still those of the records; a "
    "specification or standard may ask for a new calibration all the same."
)
NO_INDEPENDENT_CHECK = (
    "An early break beside the form is no independent check of the coldest corner. Confirm by another in-place test "
    "before a critical operation; the responsible engineer decides."
)

ON_SITE = (
    "Early specimens are cured on site, beside the pour: each counts at its own maturity, from a temperature record or "
    "a logger. One at a lower maturity than the records hold is not read; on a cool night break it later."
)
RESCALED = (
    "The curve of the trial batches multiplied by the ratio of the broken to the read early strength reads best: an "
    "issued curve reads pours so, at the early ages judged here."
)


def not_judged_words(why: str) -> str:
    """Why nothing is said of early breaks."""
    return f"What early breaks of a pour would do cannot be judged: {why}."


def even_choice_words(n_pours: int, n_batches: int) -> tuple[str, ...]:
    """Which batches play the pours where not all of them do."""
    if n_pours == n_batches:
        return ()
    return (
        f"Early breaks are judged on {n_pours} of the {n_batches} earlier batches, evenly chosen in their order; what "
        "a pour is read by has learnt from all.",
    )


def early_break_sentences(
    by_trials: tuple[tuple[EarlyBreakRow, ...], ...],
    taken: EarlyBreakRow,
    is_enough: bool,
    settings: Settings,
    *,
    offered: tuple[int, ...],
    left_out: tuple[float, ...],
    anew: ChosenAnew | None,
) -> tuple[str, ...]:
    """The honest rival, the advice, what was left out, and the conditions.

    Parameters
    ----------
    by_trials
        Rows with 0, 1, 2, ... trial batches.
    offered
        Numbers of trial batches that the plan allows.
    """
    sentences = [_rival_words(by_trials[0][0]), SAME_MATERIALS, _advice_words(taken, is_enough, settings)]
    sentences += _trial_words(by_trials, taken, offered, settings)
    sentences += _money_words(taken, settings)
    if settings.pours is not None and settings.pours.curing == "site":
        sentences.append(ON_SITE)
    if taken.reading == "rescaled":
        sentences.append(RESCALED)
    if anew is not None:
        sentences.append(_anew_words(anew))
    best = min(by_trials[taken.n_trial_batches], key=lambda row: row.rms)
    if not is_enough and best is not taken:
        sentences.append(
            f"More specimens gain little: the best, {broken_words(best)}, errs {percent(best.rms)} instead of "
            f"{percent(taken.rms)}."
        )
    if left_out:
        listed = ", ".join(age_label(age) for age in left_out)
        sentences.append(
            f"Early ages not judged: {listed}. No earlier batch was broken there, or concrete is too young or too weak."
        )
    return (*sentences, NO_INDEPENDENT_CHECK)


def _trial_words(
    by_trials: tuple[tuple[EarlyBreakRow, ...], ...],
    taken: EarlyBreakRow,
    offered: tuple[int, ...],
    settings: Settings,
) -> list[str]:
    """What other numbers of trial batches do with the same early breaks, and which of them cannot be judged."""
    others = [
        row
        for rows in by_trials
        for row in rows
        if row.n_trial_batches != taken.n_trial_batches and row.n_specimens == taken.n_specimens
    ]
    texts = []
    if others:
        listed = ", ".join(f"{percent(row.rms)} with {_cast_words(row.n_trial_batches)}" for row in others)
        texts.append(
            f"With as many early specimens and {_cast_words(taken.n_trial_batches)} a pour is read "
            f"{percent(taken.rms)} off; {listed}."
        )
    programme = settings.programme_asked
    most = max(programme.allowed_trial_batches)
    if not programme.relies_on_records and most > max(offered) and most > len(by_trials) - 1:
        texts.append(
            f"{_cast_words(most).capitalize()} and early breaks cannot be judged together from so few earlier batches: "
            f"a curve of so many reads pours as one of {len(by_trials) - 1}."
        )
    return texts


def _cast_words(number: int) -> str:
    return trial_batches_label(number) if number else "no trial batch"


def _money_words(row: EarlyBreakRow, settings: Settings) -> list[str]:
    """What the advice costs, calibration and pours apart; nothing without prices."""
    costs, pours = settings.costs, settings.pours
    if costs is None or pours is None or row.cost_per_pour is None or not row.ages_h:
        return []
    text = f"That costs {row.cost_per_pour:.0f} {costs.currency} a pour"
    if row.cost_of_pours is not None:
        text += f", {row.cost_of_pours:.0f} {costs.currency} for {pours.number} pours"
    if row.n_trial_batches == 0:
        text += (
            "; it is read from the earlier batches, so that no trial batch need be cast for it ([programme] "
            "trial_batches = 0 issues their curve)"
        )
    elif row.cost_of_calibration is not None:
        text += (
            f", beside {row.cost_of_calibration:.0f} {costs.currency} for the calibration of "
            f"{_cast_words(row.n_trial_batches)}"
        )
    return [f"{text}."]


def broken_words(row: EarlyBreakRow) -> str:
    """The early breaks of a row: ``2 specimens at 4 h and 1 at 8 h``."""
    if not row.ages_h:
        return "nothing"
    (first_age, first), *rest = zip(row.ages_h, row.specimens, strict=True)
    texts = [f"{first} specimen{'s' if first > 1 else ''} at {age_label(first_age)}"]
    texts += [f"{count} at {age_label(age)}" for age, count in rest]
    return " and ".join(texts)


def _anew_words(anew: ChosenAnew) -> str:
    """What the choosing itself costs, and what was not chosen again."""
    text = (
        "With the number of trial batches, the reading (records, records and trial batches, or trial curve rescaled), "
        f"the early ages and their specimens chosen again without each pour it errs {percent(anew.rms)}; without "
        f"{anew.n_alike} of them the choice is the same. The trial batches' schedule and curve stay those recommended"
    )
    return text + ("." if anew.is_strict else ", and what is learnt holds all pours but the one judged.")


def _rival_words(none: EarlyBreakRow) -> str:
    text = (
        f"The mean curve of the earlier batches, with nothing new cast and nothing broken early, reads a later pour "
        f"{percent(none.rms_records)} off (RMS)"
    )
    if none.rms_rescaled is not None:
        text += f"; the curve of one trial batch of the recommended schedule {percent(none.rms_rescaled)}"
    if none.rms_records_and_trial is not None:
        text += f"; both together {percent(none.rms_records_and_trial)}"
    return text + "."


def _advice_words(row: EarlyBreakRow, is_enough: bool, settings: Settings) -> str:
    target = settings.target
    share = percent(target.assurance, digits=0)
    within = percent(row.reads_within)
    what = f"With {broken_words(row)} of every pour broken early" if row.ages_h else "With nothing broken early"
    if is_enough:
        return f"{what}, {share} of pours are read within {within}: good enough for {percent(target.tolerance)}."
    return (
        f"{what}, {share} of pours are read within {within}. No early breaks that the plan allows reach "
        f"{percent(target.tolerance)}; these are the fewest that come near the best of them."
    )


def early_programme_name(n_trial_batches: int, n_early: int) -> str:
    """``records and 3 early breaks a pour``: what is cast before, and what every pour breaks, in a table."""
    cast = batches_name(n_trial_batches) if n_trial_batches else "records"
    if not n_early:
        return cast if n_trial_batches else "records alone"
    return f"{cast} and {n_early} early {'break' if n_early == 1 else 'breaks'} a pour"


def batches_name(n_trial_batches: int) -> str:
    """``1 trial batch``, ``3 trial batches``."""
    return f"{n_trial_batches} trial {'batch' if n_trial_batches == 1 else 'batches'}"
