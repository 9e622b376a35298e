"""What would help most for the next unit of money, or specimen: a sentence or two for a first screen."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.labels import percent
from planner.terms.plan.settings import Settings
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.programme_figures import Programme, SpendingFigures
from planner.verdict.wording.programmes.early_break_words import broken_words

MORE_BATCHES = (
    "More batches of one mix, broken at the targets: only they tell how later pours differ, which no number of "
    "specimens does."
)


@dataclass(frozen=True, slots=True)
class _Step:
    """A dearer programme beside the recommended one."""

    programme: Programme
    gain: float  # error that it takes off
    price: float  # money more, else specimens more
    text: str


def helps_words(spending: SpendingFigures, settings: Settings, early: EarlyBreaks | None = None) -> tuple[str, ...]:
    """The step that takes most error off for its price, and what no listed programme reaches.

    Where the records cannot tell how later pours differ, batches that would show it come before any specimen. Early
    breaks of the pours come first where no programme is good enough and they are, or keep more inside than any.
    """
    if spending.judged_because:
        return (MORE_BATCHES,)
    is_later = spending.judged_on == "later pour"
    if is_later and not spending.is_enough and early is not None and early.recommended is not None:
        row = early.rows[early.recommended]
        if early.is_enough or (row.ages_h and row.within_tolerance > _most_inside(spending)):
            return (_early_words(early, settings),)
    steps = [
        step for step in (_one_more_batch(spending, settings), _more_specimens(spending, settings)) if step is not None
    ]
    said = (max(steps, key=lambda step: step.gain / step.price).text,) if steps else ()
    return said if spending.is_enough else (*said, _most_words(spending, settings))


def judged_rms(spending: SpendingFigures, programme: Programme) -> float:
    """The error of a programme where programmes are judged."""
    if spending.judged_on == "own batch" or programme.next_batch is None:
        return programme.own_batch_rms
    return programme.next_batch.rms


def judged_share(spending: SpendingFigures, programme: Programme) -> float:
    """The share of batches read with every target inside the tolerance, where programmes are judged."""
    if spending.judged_on == "own batch" or programme.next_batch is None:
        return programme.own_batch_within_tolerance
    return programme.next_batch.within_tolerance


def one_more_batch(spending: SpendingFigures) -> Programme | None:
    """The recommended schedule and curve with one trial batch more; None where the later pour does not judge."""
    taken = spending.recommended
    found = [
        item
        for item in spending.programmes
        if item.schedule == taken.schedule
        and item.curve == taken.curve
        and item.maturity == taken.maturity
        and item.weighting == taken.weighting
        and item.n_trial_batches == taken.n_trial_batches + 1
    ]
    return found[0] if found and spending.judged_on == "later pour" and found[0].next_batch is not None else None


def more_specimens(spending: SpendingFigures) -> Programme | None:
    """Of as many trial batches, more specimens and within the limits: the one of least error, if it errs less."""
    taken = spending.recommended
    above = [
        item
        for item in spending.programmes
        if item.n_trial_batches == taken.n_trial_batches
        and item.n_specimens > taken.n_specimens
        and item.is_within_limits
    ]
    most = min(above, key=lambda item: judged_rms(spending, item), default=None)
    return most if most is not None and judged_rms(spending, most) < judged_rms(spending, taken) else None


def limit_words(programme: Programme, settings: Settings) -> str:
    """Which limit of the plan a programme breaks; "" where it keeps them all."""
    if programme.is_within_limits:
        return ""
    allowed = max(settings.programme_asked.allowed_trial_batches)
    if programme.n_trial_batches > allowed:
        return f"the plan allows {allowed}"
    if programme.n_specimens > settings.budget.specimens:
        return f"the budget is {settings.budget.specimens} specimens"
    return "it costs more than the budget"


def _one_more_batch(spending: SpendingFigures, settings: Settings) -> _Step | None:
    more = one_more_batch(spending)
    if more is None or judged_rms(spending, more) >= judged_rms(spending, spending.recommended):
        return None
    limit = limit_words(more, settings)
    return _step(spending, settings, more, "One more trial batch", f" ({limit})" if limit else "")


def _more_specimens(spending: SpendingFigures, settings: Settings) -> _Step | None:
    more = more_specimens(spending)
    return None if more is None else _step(spending, settings, more, f"{more.n_specimens} specimens", "")


def _step(spending: SpendingFigures, settings: Settings, more: Programme, what: str, limit: str) -> _Step:
    taken = spending.recommended
    gain = judged_rms(spending, taken) - judged_rms(spending, more)
    price, money = float(more.n_specimens - taken.n_specimens), ""
    if more.cost is not None and taken.cost is not None and settings.costs is not None:
        extra = more.cost - taken.cost
        price = max(extra, 1.0)
        money = f", {abs(extra):.0f} {settings.costs.currency} {'more' if extra >= 0 else 'less'}"
    digits = 1 if percent(judged_rms(spending, more)) != percent(judged_rms(spending, taken)) else 2
    return _Step(more, gain, price, f"{what}: {percent(judged_rms(spending, more), digits=digits)} off{money}{limit}.")


def _early_words(early: EarlyBreaks, settings: Settings) -> str:
    assert early.recommended is not None
    row = early.rows[early.recommended]
    money = "" if row.cost_per_pour is None else f", {row.cost_per_pour:.0f} {early.currency} a pour"
    counted = f"{percent(row.rms)} off, {percent(row.within_tolerance, digits=0)} within"
    verdict = "good enough"
    if not early.is_enough:  # all pours tried may lie within the tolerance and yet be too few to be sure of most
        assured = percent(settings.target.assurance, digits=0)
        verdict = f"not yet good enough: {assured} can be counted on within {percent(row.reads_within)}"
    return (
        f"Early breaks of every pour ({broken_words(row)}{money}): {counted} "
        f"{percent(settings.target.tolerance)}, {verdict}."
    )


def _most_inside(spending: SpendingFigures) -> float:
    return max(judged_share(spending, item) for item in spending.programmes)


def _most_words(spending: SpendingFigures, settings: Settings) -> str:
    """What no listed programme exceeds."""
    text = f"No programme listed keeps over {percent(_most_inside(spending), digits=0)} inside"
    if spending.judged_on == "own batch":
        return f"{text}: more batches or ages help."
    return f"{text}: {'see [pours]' if settings.pours is None else 'site checks show the rest'}."
