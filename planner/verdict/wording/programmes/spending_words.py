"""Where the money goes, in words: the answer, what less would lose, what more would gain, what no money buys."""

from __future__ import annotations

from planner.terms.labels import digits_label, percent, schedule_label, trial_batches_label
from planner.terms.plan.settings import Settings
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.programme_figures import Programme, SpendingFigures
from planner.verdict.wording.programmes.early_break_words import broken_words
from planner.verdict.wording.programmes.helping_words import (
    judged_rms,
    judged_share,
    limit_words,
    more_specimens,
    one_more_batch,
)

LITTLE = 1.05  # specimens that take less than 5 % off the error are said to buy little


def spending_words(spending: SpendingFigures, settings: Settings, early: EarlyBreaks | None) -> tuple[str, ...]:
    """The answer first; then fewer specimens, one trial batch more, what is beyond reach, and what early breaks do."""
    currency = settings.costs.currency if settings.costs else ""
    taken = spending.recommended
    sentences = [_answer(spending, settings, currency)]
    dearer = _beaten(spending) or _dearer(spending, currency)
    texts = (_fewer(spending, currency), dearer, _more(spending, settings, currency))
    sentences += [text for text in texts if text]
    if not spending.is_enough:
        sentences.append(_beyond(spending, settings, taken))
    return (*sentences, *pours_words(spending, early))


def _what(spending: SpendingFigures) -> str:
    return "later pours" if spending.judged_on == "later pour" else "trial batches, each off its own curve,"


def _who(spending: SpendingFigures) -> str:
    return "pours" if spending.judged_on == "later pour" else "batches"


def _money(programme: Programme, currency: str) -> str:
    return "" if programme.cost is None else f", {programme.cost:.0f} {currency}"


def _answer(spending: SpendingFigures, settings: Settings, currency: str) -> str:
    taken = spending.recommended
    head = (
        f"{trial_batches_label(taken.n_trial_batches).capitalize()} of {taken.schedule.n_specimens} specimens "
        f"({schedule_label(taken.schedule)}){_money(taken, currency)}: {_what(spending)} are read "
        f"{percent(judged_rms(spending, taken), digits=2)} off (RMS), "
        f"{percent(judged_share(spending, taken), digits=0)} of them within "
        f"{percent(settings.target.tolerance, digits=0)}"
    )
    wanted = percent(settings.target.assurance, digits=0)
    if spending.is_enough:
        return f"{head}; {wanted} are wanted, so this is enough, and nothing cheaper is."
    return (
        f"{head}; {wanted} are wanted. No programme within the limits is enough, this one falls "
        f"short by {100 * _short(spending, settings):.0f} of 100 {_who(spending)}; it is the cheapest that ties with "
        "the best of those that the own batch ranks first "
        f"({trial_batches_label(spending.best.n_trial_batches)} of {spending.best.schedule.n_specimens} specimens: "
        f"{percent(judged_rms(spending, spending.best), digits=2)})."
    )


def _beaten(spending: SpendingFigures) -> str:
    """That another beats the recommended in all that counts, and why it is not taken; "" where none does."""
    better = spending.recommended.beaten_by
    if better is None:
        return ""
    why = (
        f"it keeps only {percent(better.within_tolerance, digits=0)} inside"
        if spending.is_enough and not better.is_enough
        else f"its score on its own concrete, by which ages and curve are ranked, is "
        f"{digits_label(better.score_times, 2)} times as high"
    )
    return (
        f"{trial_batches_label(better.n_trial_batches).capitalize()} of {schedule_label(better.schedule)} would read "
        f"{percent(better.rms, digits=2)} off and is no worse in anything judged or spent, but is not taken: {why}."
    )


def _short(spending: SpendingFigures, settings: Settings) -> float:
    return max(settings.target.assurance - judged_share(spending, spending.recommended), 0.0)


def _same_number(spending: SpendingFigures) -> list[Programme]:
    return [item for item in spending.programmes if item.n_trial_batches == spending.recommended.n_trial_batches]


def _fewer(spending: SpendingFigures, currency: str) -> str:
    """The next programme below, and what it would lose."""
    taken = spending.recommended
    below = [item for item in _same_number(spending) if item.n_specimens < taken.n_specimens]
    if not below:
        return ""
    least = max(below, key=lambda item: (item.n_specimens, -judged_rms(spending, item)))
    saved = (
        ""
        if taken.cost is None or least.cost is None
        else f" and {'save' if least.cost < taken.cost else 'cost'} {abs(taken.cost - least.cost):.0f} {currency}"
        + ("" if least.cost < taken.cost else " more")
    )
    short = ", which is not good enough" if spending.is_enough and not least.is_enough else ""
    return (
        f"{least.n_specimens} specimens would read {percent(judged_rms(spending, least), digits=2)} off{saved}{short}."
    )


def _dearer(spending: SpendingFigures, currency: str) -> str:
    """What the most specimens of as many trial batches would gain."""
    taken, most = spending.recommended, more_specimens(spending)
    if most is None:
        return ""
    extra = (
        ""
        if taken.cost is None or most.cost is None
        else f" for {abs(most.cost - taken.cost):.0f} {currency} {'more' if most.cost >= taken.cost else 'less'}"
    )
    little = "little more: " if judged_rms(spending, taken) < LITTLE * judged_rms(spending, most) else ""
    return f"{most.n_specimens} specimens buy {little}{percent(judged_rms(spending, most), digits=2)} instead{extra}."


def _more(spending: SpendingFigures, settings: Settings, currency: str) -> str:
    """What one more trial batch of the same schedule would gain."""
    taken, more = spending.recommended, one_more_batch(spending)
    if more is None:
        return ""
    extra = "" if taken.cost is None or more.cost is None else f" for {more.cost - taken.cost:.0f} {currency} more"
    limits = "" if more.is_within_limits else f" ({limit_words(more, settings)})"
    carried = ""
    if more.next_batch is not None and more.next_batch.is_extrapolated:
        carried = " That is carried beyond what the records can show."
    return (
        f"One more trial batch, {more.n_specimens} specimens in all and their curves averaged, reads "
        f"{percent(judged_rms(spending, more), digits=2)} off{extra}{limits}.{carried}"
    )


def _beyond(spending: SpendingFigures, settings: Settings, taken: Programme) -> str:
    """What no programme reaches, and what helps then."""
    known = [item for item in spending.programmes if item.n_trial_batches <= max(3, taken.n_trial_batches)]
    best = max(known, key=lambda item: judged_share(spending, item))
    head = (
        f"No listed programme keeps more than {percent(judged_share(spending, best), digits=0)} within "
        f"{percent(settings.target.tolerance, digits=0)}; that one has {trial_batches_label(best.n_trial_batches)} of "
        f"{best.schedule.n_specimens} specimens."
    )
    if spending.judged_on == "own batch":
        return f"{head} More batches in the records or other break ages help; more of the same do not."
    rest = f"{head} The rest is how batches differ: site checks show it"
    if settings.pours is None:
        return f"{rest}, early breaks of each pour ([pours]) correct it."
    return f"{rest}."


def _read_by(row: EarlyBreakRow) -> str:
    """What the pours are read by."""
    if row.reading == "rescaled":
        return f"the curve of {trial_batches_label(row.n_trial_batches)} shifted to them"
    if row.n_trial_batches == 0:
        return "read by the records"
    return f"read by the records after {trial_batches_label(row.n_trial_batches)}"


def pours_words(spending: SpendingFigures, early: EarlyBreaks | None) -> tuple[str, ...]:
    """What early breaks of every pour do, where the plan has them and no programme is enough."""
    if early is None or early.recommended is None or spending.is_enough or spending.judged_on == "own batch":
        return ()
    row = early.rows[early.recommended]
    if not row.ages_h:
        return ()
    money = "" if row.cost_per_pour is None else f" for {row.cost_per_pour:.0f} {early.currency} a pour"
    text = (
        f"With {broken_words(row)} of every pour broken early{money} and {_read_by(row)}, pours are read "
        f"{percent(row.rms)} off, {percent(row.within_tolerance, digits=0)} within the tolerance"
    )
    return (f"{text}{': good enough' if early.is_enough else ''}.",)
