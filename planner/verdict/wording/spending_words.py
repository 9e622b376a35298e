"""Where the money goes, in words: the answer, what less would lose, what more would gain, what no money buys."""

from __future__ import annotations

from planner.terms.labels import percent, schedule_label, trial_batches_label
from planner.terms.plan.settings import Settings
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.programme_figures import Programme, SpendingFigures
from planner.verdict.wording.early_break_words import broken_words

LITTLE = 1.05  # specimens that take less than 5 % off the error are said to buy little


def spending_words(told: SpendingFigures, settings: Settings, early: EarlyBreaks | None) -> tuple[str, ...]:
    """The answer first; then fewer specimens, one trial batch more, what is beyond reach, and what early breaks do."""
    currency = settings.costs.currency if settings.costs else ""
    taken = told.recommended
    sentences = [_answer(told, settings, currency)]
    dearer = _beaten(told) or _dearer(told, currency)
    texts = (_fewer(told, currency), dearer, _more(told, currency))
    sentences += [text for text in texts if text]
    if not told.is_enough:
        sentences.append(_beyond(told, settings, taken))
    return (*sentences, *pours_words(told, early))


def _what(told: SpendingFigures) -> str:
    return "later pours" if told.judged_on == "later pour" else "readings of the trial batch's own concrete"


def _share(told: SpendingFigures, programme: Programme) -> float:
    if told.judged_on == "own batch" or programme.next_batch is None:
        return programme.own_batch_within_tolerance
    return programme.next_batch.within_tolerance


def _rms(told: SpendingFigures, programme: Programme) -> float:
    if told.judged_on == "own batch" or programme.next_batch is None:
        return programme.own_batch_rms
    return programme.next_batch.rms


def _money(programme: Programme, currency: str) -> str:
    return "" if programme.cost is None else f", {programme.cost:.0f} {currency}"


def _answer(told: SpendingFigures, settings: Settings, currency: str) -> str:
    taken = told.recommended
    head = (
        f"{trial_batches_label(taken.n_trial_batches).capitalize()} of {taken.schedule.n_specimens} specimens "
        f"({schedule_label(taken.schedule)}){_money(taken, currency)}: {_what(told)} are read "
        f"{percent(_rms(told, taken), digits=2)} off (RMS), {percent(_share(told, taken), digits=0)} of them within "
        f"{percent(settings.target.tolerance, digits=0)}"
    )
    wanted = percent(settings.target.assurance, digits=0)
    if told.is_enough:
        return f"{head}; {wanted} are wanted, so this is enough, and nothing cheaper is."
    return (
        f"{head}; {wanted} are wanted. No programme within the limits is enough, this one falls "
        f"{percent(_short(told, settings), digits=0)} of readings short; it is the cheapest that ties with the "
        "best of those that the own batch ranks first "
        f"({trial_batches_label(told.best.n_trial_batches)} of {told.best.schedule.n_specimens} specimens: "
        f"{percent(_rms(told, told.best), digits=2)})."
    )


def _beaten(told: SpendingFigures) -> str:
    """That another beats the recommended in all that counts, and why it is not taken; "" where none does."""
    better = told.recommended.beaten_by
    if better is None:
        return ""
    why = (
        f"keeps only {percent(better.within_tolerance, digits=0)} inside"
        if told.is_enough and not better.is_enough
        else f"scores {better.score_times:.2g} times as high on its own concrete"
    )
    return (
        f"{trial_batches_label(better.n_trial_batches).capitalize()} of {schedule_label(better.schedule)}, no worse in "
        f"anything judged or spent, {percent(better.rms, digits=2)} off, is not taken: it {why}."
    )


def _short(told: SpendingFigures, settings: Settings) -> float:
    return max(settings.target.assurance - _share(told, told.recommended), 0.0)


def _same_number(told: SpendingFigures) -> list[Programme]:
    return [item for item in told.programmes if item.n_trial_batches == told.recommended.n_trial_batches]


def _fewer(told: SpendingFigures, currency: str) -> str:
    """The next programme below, and what it would lose."""
    taken = told.recommended
    below = [item for item in _same_number(told) if item.n_specimens < taken.n_specimens]
    if not below:
        return ""
    least = max(below, key=lambda item: (item.n_specimens, -_rms(told, item)))
    saved = (
        ""
        if taken.cost is None or least.cost is None
        else f" and {'save' if least.cost < taken.cost else 'cost'} {abs(taken.cost - least.cost):.0f} {currency}"
        + ("" if least.cost < taken.cost else " more")
    )
    return f"{least.n_specimens} specimens would read {percent(_rms(told, least), digits=2)} off{saved}."


def _dearer(told: SpendingFigures, currency: str) -> str:
    """What the most specimens of as many trial batches would gain."""
    taken = told.recommended
    above = [item for item in _same_number(told) if item.n_specimens > taken.n_specimens and item.is_within_limits]
    if not above:
        return ""
    most = min(above, key=lambda item: _rms(told, item))
    if _rms(told, most) >= _rms(told, taken):
        return ""
    extra = (
        ""
        if taken.cost is None or most.cost is None
        else f" for {abs(most.cost - taken.cost):.0f} {currency} {'more' if most.cost >= taken.cost else 'less'}"
    )
    little = "little more: " if _rms(told, taken) < LITTLE * _rms(told, most) else ""
    return f"{most.n_specimens} specimens buy {little}{percent(_rms(told, most), digits=2)} instead{extra}."


def _more(told: SpendingFigures, currency: str) -> str:
    """What one more trial batch of the same schedule would gain."""
    taken = told.recommended
    found = [
        item
        for item in told.programmes
        if item.schedule == taken.schedule
        and item.curve == taken.curve
        and item.maturity == taken.maturity
        and item.weighting == taken.weighting
        and item.n_trial_batches == taken.n_trial_batches + 1
    ]
    if told.judged_on == "own batch" or not found or found[0].next_batch is None:
        return ""
    more = found[0]
    extra = "" if taken.cost is None or more.cost is None else f" for {more.cost - taken.cost:.0f} {currency} more"
    limits = "" if more.is_within_limits else " It is beyond the plan's limits."
    carried = ""
    if more.next_batch is not None and more.next_batch.is_extrapolated:
        carried = " That is carried beyond what the records can show."
    return (
        f"One more trial batch, {more.n_specimens} specimens in all and their curves averaged, reads "
        f"{percent(_rms(told, more), digits=2)} off{extra}.{limits}{carried}"
    )


def _beyond(told: SpendingFigures, settings: Settings, taken: Programme) -> str:
    """What no programme reaches, and what helps then."""
    known = [item for item in told.programmes if item.n_trial_batches <= max(3, taken.n_trial_batches)]
    best = max(known, key=lambda item: _share(told, item))
    head = (
        f"Beyond reach of all listed, {trial_batches_label(best.n_trial_batches)} of {best.schedule.n_specimens} "
        f"included: {percent(_share(told, best), digits=0)} within {percent(settings.target.tolerance, digits=0)} at "
        "most."
    )
    if told.judged_on == "own batch":
        return f"{head} More batches in the records or other break ages help; more of the same do not."
    rest = f"{head} The rest is between batches: site checks show it"
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


def pours_words(told: SpendingFigures, early: EarlyBreaks | None) -> tuple[str, ...]:
    """What early breaks of every pour do, where the plan has them and no programme is enough."""
    if early is None or early.recommended is None or told.is_enough or told.judged_on == "own batch":
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
