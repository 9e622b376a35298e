"""The whole calibration in words: what is made beyond the schedule, and how later pours are checked."""

from __future__ import annotations

from planner.report.accounts.parts.estimate_lines import amount_cell, estimate_lines, price_cell
from planner.report.text import words
from planner.report.text.blocks import Column, Facts, Section, Table
from planner.terms.labels import percent
from planner.terms.results.programme_count import ProgrammeCount
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.minimum.standard_counts import STANDARDS, StandardCounts


def programme_section(advice: Recommendation) -> Section:
    """What to make for the recommended schedule, and how to check later pours."""
    facts: tuple[tuple[str, str], ...] = ()
    if advice.programme is not None:
        facts += programme_facts(advice.programme)
    facts += tuple(("Standard", less_words(advice, standard)) for standard in STANDARDS if _asks_less(advice, standard))
    if advice.checks is not None:
        facts += (
            ("Acceptance", words.clean(advice.checks.acceptance)),
            ("Site checks", words.clean(advice.checks.rule)),
        )
    return Section("What the whole calibration takes", (Facts(facts),) if facts else ())


def _asks_less(advice: Recommendation, standard: StandardCounts) -> bool:
    schedule = advice.recommended.schedule
    return schedule.n_specimens < standard.fewest_specimens or schedule.n_ages < standard.fewest_ages


def less_words(advice: Recommendation, standard: StandardCounts) -> str:
    """That a standard asks for more than is advised, and what to do where it is in force."""
    schedule = advice.recommended.schedule
    return (
        f"{standard.name} asks for {standard.fewest_specimens} specimens at {standard.fewest_ages} ages of a batch "
        f"(from memory), this schedule has {schedule.n_specimens} at {schedule.n_ages}. Where it is in force, "
        f'test-ages minimum PLAN --at-least "{standard.name}" tells the least that has both.'
    )


def estimate_section(advice: Recommendation) -> Section:
    """The price of the recommended schedule line by line; nothing where the plan states no prices."""
    estimate = advice.estimate
    if estimate is None or estimate.total is None:
        return Section("Cost, line by line", ())
    columns = (
        Column(heading="item"),
        Column(heading="number", is_number=True),
        Column(heading="price", is_number=True),
        Column(heading="amount", is_number=True),
    )
    rows = [
        (
            words.clean(line.name, limit=60),
            "" if line.quantity is None else f"{line.quantity:g}",
            price_cell(line),
            amount_cell(line, advice.currency),
        )
        for line in estimate_lines(estimate)
    ]
    note = (
        f"Cast {estimate.casting}."
        if not estimate.open_items
        else (f"Cast {estimate.casting}. Needed, but without a price in the plan: {', '.join(estimate.open_items)}.")
    )
    return Section("Cost, line by line", (Table(columns=columns, rows=tuple(rows), note=note),))


def programme_facts(count: ProgrammeCount) -> tuple[tuple[str, str], ...]:
    """Specimens, moulds and concrete, term by term."""
    return (
        ("Specimens made", made_words(count)),
        ("Third specimens", third_words(count)),
        ("Moulds, concrete", concrete_words(count)),
    )


def made_words(count: ProgrammeCount) -> str:
    """``18: 12 for the curve, 2 spares, 2 with sensors and not broken, ...``."""
    parts = [f"{count.n_schedule} for the curve"]
    if count.n_spares:
        parts.append(f"{count.n_spares} spare{'s' if count.n_spares != 1 else ''}")
    if count.n_instrumented:
        parts.append(f"{count.n_instrumented} with temperature sensors, not broken")
    if count.n_acceptance:
        parts.append(f"{count.n_acceptance} companions at the targets, by which the curve is accepted")
    if count.n_companions:
        parts.append(f"{count.n_companions} companions for {count.n_checks} site checks")
    made = f"{count.n_made}: {', '.join(parts)}"
    if count.n_trial_batches > 1:
        made += f"; over {count.n_trial_batches} trial batches"
    return made if count.n_checks else made + "; site checks not counted ([programme] checks names none)"


def third_words(count: ProgrammeCount) -> str:
    """How many ages of two will call for a third specimen."""
    if count.expected_third_breaks == 0:
        return "none expected: no age has only two"
    return (
        f"about {count.expected_third_breaks:.1f} expected where two differ by more than "
        f"{percent(count.third.most_range, digits=0)} of their mean ({count.third.source}); they come out of the spares"
    )


def concrete_words(count: ProgrammeCount) -> str:
    """Moulds in use at once, and litres with waste."""
    moulds = f"{count.n_moulds} moulds at once"
    if count.litres is None or count.litres_per_trial_batch is None:
        return moulds + "; the concrete is not counted, the records name no one geometry"
    return (
        f"{moulds}; {count.litres_per_trial_batch:.0f} L of concrete for each trial batch, {count.litres:.0f} L in "
        "all (10 % waste included)"
    )
