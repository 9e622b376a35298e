"""What an estimator weighs beside the price, in words and tables: programmes, alternatives, days, risk."""

from __future__ import annotations

from planner.report.accounts.parts.comparison import unbroken_schedule
from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.report.text.plain_blocks import NO_BREAK
from planner.terms.labels import age_label, clock_label
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.price_parts import Alternative, Risk, Stage
from planner.terms.results.programme_figures import Programme

DAY = "%a %d %b %Y %H:%M"
SHORT_DAY = "%d %b %H:%M"  # of one programme, in a narrow table
AT_ONCE = "at once"  # the records' own curve: nothing is cast
MARK = ">"  # stands before the row to bid


def programmes_section(answer: PriceAnswer) -> Section:
    """The frontier of programmes, the one to bid marked."""
    advice = answer.recommendation
    spending = advice.spending
    heading = "Later-pour error against money: the row to bid is marked >"
    if spending is None:
        return Section(heading, ())
    if answer.relies_on_records:
        heading = "Later-pour error against money, if trial batches were cast"
    bid = None if answer.relies_on_records else spending.recommended
    rows = tuple(_programme_row(item, answer, is_bid=item == bid) for item in spending.programmes)
    note = (
        f"Each row is a fixed programme: later pour, its RMS error where its curve is read on another batch; inside, "
        f"share of such batches within {words.share(advice.tolerance)} at every target. * beyond the plan's limits."
    )
    return Section(heading, (Table(columns=_columns("", "n"), rows=rows, note=note),))


def _columns(first: str, second: str) -> tuple[Column, ...]:
    return (
        Column(heading=first),
        Column(heading="trial batches", is_number=True),
        Column(heading=second, is_number=True),
        Column(heading="cost", is_number=True),
        Column(heading="later pour", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="own batch", is_number=True),
        Column(heading="each batch"),
    )


def _programme_row(item: Programme, answer: PriceAnswer, *, is_bid: bool) -> tuple[str, ...]:
    later = item.next_batch
    return (
        MARK if is_bid else "" if item.is_within_limits else "*",
        str(item.n_trial_batches),
        str(item.n_specimens),
        words.money(item.cost, answer.recommendation.currency),
        words.share(None if later is None else later.rms),
        words.whole_share(None if later is None else later.within_tolerance),
        words.share(item.own_batch_rms),
        unbroken_schedule(item.schedule),
    )


def alternatives_section(answer: PriceAnswer) -> Section:
    """What else the money buys, and when each curve is there."""
    advice = answer.recommendation
    if not answer.alternatives:
        return Section("What else one could buy", ())
    columns = (
        Column(heading="programme"),
        Column(heading="n", is_number=True),
        Column(heading="cost", is_number=True),
        Column(heading="later pour", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="first curve"),
        Column(heading="final", is_number=True),
    )
    rows = tuple(
        (
            (f"{MARK} " if item.is_recommended else "") + item.name + ("" if item.is_within_limits else " *"),
            str(item.n_specimens),
            words.money(item.cost, advice.currency),
            words.share(item.later_rms),
            words.whole_share(item.within_tolerance),
            first_words(item),
            final_words(item),
        )
        for item in answer.alternatives
    )
    note = (
        f"cost: the calibration; with early breaks also those of all pours. first curve, final: {_when_words(answer)}; "
        "the site may read the curve from then on, if it is accepted. * beyond the plan's limits."
    )
    return Section("What else one could buy", (Table(columns=columns, rows=rows, note=note),))


def _when_words(answer: PriceAnswer) -> str:
    if any(stage.due is not None for item in answer.alternatives for stage in item.stages):
        return "day and hour of the last break that it needs"
    return "after the first casting, several trial batches cast a day apart"


def first_words(item: Alternative) -> str:
    """``6 h (23.8 % off)``: when the first breaks carry a curve, and how far that one is off."""
    if not item.stages:
        return words.NONE if item.n_trial_batches else AT_ONCE
    first = item.stages[0]
    return f"{_when(first)} ({_off(first)} off)"


def final_words(item: Alternative) -> str:
    """When the last trial batch is broken to the end."""
    if not item.stages:
        return words.NONE if item.n_trial_batches else AT_ONCE
    return _when(item.stages[-1])


def _when(stage: Stage) -> str:
    return age_label(stage.age_h) if stage.due is None else clock_label(stage.due, SHORT_DAY)


def _off(stage: Stage) -> str:
    return words.share(stage.own_rms if stage.later_rms is None else stage.later_rms)


def stage_day(stage: Stage) -> str:
    """``Thu 04 Mar 2027 07:30``: when the last specimen of a stage is broken."""
    return words.NONE if stage.due is None else clock_label(stage.due, DAY)


def _told_when(stage: Stage) -> str:
    return age_label(stage.age_h) if stage.due is None else stage_day(stage)


def stages_section(answer: PriceAnswer) -> Section:
    """The curve of the row to bid as its breaks come in."""
    bid = next((item for item in answer.alternatives if item.is_recommended), None)
    heading = "The curve as breaks come in"
    if bid is None:
        return Section(heading, ())
    is_dated = any(stage.due is not None for stage in bid.stages)
    columns = (
        Column(heading="on" if is_dated else "after"),
        Column(heading="ages", is_number=True),
        Column(heading="own batch", is_number=True),
        Column(heading="later pour", is_number=True),
        Column(heading="curve"),
    )
    last = len(bid.stages) - 1
    rows = tuple(
        (
            stage_day(stage).replace(" ", NO_BREAK) if is_dated else age_label(stage.age_h),
            str(stage.n_ages),
            words.share(stage.own_rms),
            words.share(stage.later_rms),
            "final" if place == last else "provisional",
        )
        for place, stage in enumerate(bid.stages)
    )
    counted = "" if is_dated else "Hours and days after the first casting. "
    note = f"{counted}A provisional curve is issued with its own, wider error or not at all."
    return Section(heading, (Table(columns=columns, rows=rows, note=note),))


def ready_words(answer: PriceAnswer) -> str:
    """When the site gets which curve; nothing where that is not known."""
    bid = next((item for item in answer.alternatives if item.is_recommended and item.stages), None)
    if bid is None:
        return ""
    first, final = bid.stages[0], bid.stages[-1]
    after = " after casting" if first.due is None else ""
    if first == final:
        return f"{_told_when(final)}{after}, {_off(final)} off"
    return f"first curve {_told_when(first)}{after}, {_off(first)} off; final {_told_when(final)}, {_off(final)} off"


def ready_by_words(answer: PriceAnswer) -> str:
    """The plan's limit on time, and what it costs against the programme without it."""
    found, free = answer.recommendation, answer.without_ready_by
    text = f"{age_label(answer.ready_by_h or 0.0)} after the first casting; kept"
    bid = None if found.spending is None else found.spending.recommended
    if free is None or bid is None:
        return text
    if (free.schedule, free.n_trial_batches) == (bid.schedule, bid.n_trial_batches):
        return f"{text}, at no cost: without it the same would be bid"
    batches = "1 trial batch" if free.n_trial_batches == 1 else f"{free.n_trial_batches} trial batches"
    money = "" if free.cost is None else f" for {words.money(free.cost, found.currency)}"
    return (
        f"{text}. Without it: {batches} of {unbroken_schedule(free.schedule)}{money}, "
        f"{words.share(free.headline_rms)} off instead of {words.share(bid.headline_rms)}"
    )


def risk_words(risk: Risk, currency: str) -> str:
    """The chance of a repeat with its bounds, and the money expected; in no sum."""
    why = "refused" if risk.n_strangers is None else "refused or strangers"
    chance = (
        f"{words.share(risk.chance_of_repeat)} of trial batches are {why} (of {risk.n_batches}; at least "
        f"{words.whole_share(risk.chance_lower_95)}, at most {words.whole_share(risk.chance_upper_95)}, each at 95 %)"
    )
    expected = risk.options[0].expected_cost
    if expected is None or risk.cost_without_repeat is None:
        return chance
    return f"{chance}: {words.money(expected - risk.cost_without_repeat, currency)} expected, in no sum"


def spares_words(risk: Risk) -> str:
    """How many companions in reserve are worth casting."""
    best = risk.options[risk.cheapest]
    if not best.n_spares:
        return "no companions in reserve: they cost more than the repeats that they save"
    return (
        f"{best.n_spares} companions in reserve for each trial batch: {words.share(best.chance_of_repeat)} are then "
        "repeated"
    )


def _stranger_words(risk: Risk) -> str:
    if risk.n_strangers is None:
        return "So few batches cannot tell whether one of them is a stranger: no repeat is counted for that."
    counted = "None" if not risk.n_strangers else str(risk.n_strangers)
    return (
        f"{counted} of them, held against the others as a trial batch is, would have been taken for a stranger and "
        "repeated."
    )


def risk_section(answer: PriceAnswer) -> Section:
    """Repeats with and without spares, and false alarms: expected money, in no sum."""
    risk, currency = answer.risk, answer.recommendation.currency
    heading = "What may go wrong, expected (in no sum above)"
    if risk is None:
        return Section(heading, ())
    columns = (
        Column(heading="companions in reserve", is_number=True),
        Column(heading="repeated", is_number=True),
        Column(heading="expected cost", is_number=True),
    )
    rows = tuple(
        (str(item.n_spares), words.share(item.chance_of_repeat), words.money(item.expected_cost, currency))
        for item in risk.options
    )
    note = (
        "Of every trial batch, cast beside the companions that accept its curve. A refused trial batch is cast anew "
        "until one is accepted; the cost is that of the calibration with its acceptance. Errors of curves: those of "
        f"{risk.n_batches} earlier batches on their own companions, scaled to the error on batches left out. "
        f"{_stranger_words(risk)}"
    )
    texts = [f"Worth casting: {spares_words(risk)}."]
    if risk.chance_of_false_alarm is not None:
        money = (
            ""
            if risk.expected_alarm_cost is None
            else f" Casting and accepting anew then costs {words.money(risk.expected_alarm_cost, currency)} expected."
        )
        texts.append(
            f"Within {risk.n_checks} site checks a sound curve is withdrawn by chance in "
            f"{words.share(risk.chance_of_false_alarm)} of cases.{money}"
        )
    return Section(heading, (Table(columns=columns, rows=rows, note=note), Bullets(tuple(texts))))
