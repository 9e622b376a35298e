"""The answer to a specification writer in sections: the least for every target, its price, a draft clause."""

from __future__ import annotations

from planner.report.accounts.drawn_account import headed
from planner.report.accounts.full_account import basis_section, cautions_section, has_content
from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.answers import AgeNeed, ConstraintPrice, LearntRule, MinimumAnswer, TargetMinimum
from planner.terms.results.recommendation import Recommendation

NEED_MARKS = {"must be there": "must", "may be there": "may", "does not help": "no help"}
CUSTOMARY_LEAST = (
    "The fewest are what these records carry, not what a standard asks: ASTM C1074 wants at least 15 cylinders "
    "at five ages (from memory). Where it is in force it holds."
)
NOISE = 0.0005  # error differences below 0.05 % are written as none


def minimum_account(answer: MinimumAnswer) -> tuple[Section, ...]:
    """Everything about the least, the answer first."""
    told = answer.recommendation
    targets = answer.targets if len(answer.targets) > 1 else ()
    sections = (
        headed(_answer(answer), told),
        _ages_by_target(answer),
        *(_target(target, told) for target in (answer.together, *targets)),
        _clause(answer),
        basis_section(told),
        cautions_section(told),
    )
    return tuple(section for section in sections if section.blocks and has_content(section))


def _answer(answer: MinimumAnswer) -> Section:
    """The fewest ages and specimens for each target in one table."""
    told = answer.recommendation
    columns = (
        Column(heading="to read"),
        Column(heading="ages", is_number=True),
        Column(heading="n", is_number=True),
        Column(heading="for example"),
        Column(heading="RMS error", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="lower 95 %", is_number=True),
        Column(heading="later pour", is_number=True),
    )
    listed = (answer.together, *answer.targets) if len(answer.targets) > 1 else (answer.together,)
    rows = tuple(_fewest_row(target, answer) for target in listed)
    note = (
        f"inside: share of batches within {words.share(told.tolerance)}, {words.whole_share(told.assurance)} wanted; "
        "each batch by a choice that had not seen it, own batch. later pour: RMS error of the same curve on a later "
        "pour, which no choice of ages mends."
    )
    heading = words.clean(told.title, limit=120) or "The least that has to be broken"
    table = Table(columns=columns, rows=rows, n_marked=1, note=note)
    return Section(f"{heading}: fewest breaks", (table, Paragraph(CUSTOMARY_LEAST)))


def _fewest_row(target: TargetMinimum, answer: MinimumAnswer) -> tuple[str, ...]:
    name = _name(target, answer.recommendation)
    found = target.fewest
    if found is None:
        free = target.unrestricted
        rms = words.NONE if free is None else words.share(free.rms)
        inside = words.NONE if free is None else words.whole_share(free.within_tolerance)
        later = words.NONE if free is None else words.share(free.later_rms)
        why = "fewer than two batches" if free is None else "no schedule keeps the error inside"
        return (name, "none", words.NONE, why, rms, inside, words.NONE, later)
    return (
        name,
        str(found.schedule.n_ages),
        str(found.schedule.n_specimens),
        schedule_label(found.schedule),
        words.share(found.rms),
        words.whole_share(found.within_tolerance),
        words.lower_bound(found.within_tolerance_lower_95),
        words.share(found.later_rms),
    )


def _name(target: TargetMinimum, told: Recommendation) -> str:
    if target.age_h is not None:
        return told.target_label(target.age_h)
    return "all of them" if len(told.target_ages_h) > 1 else told.target_label(told.target_ages_h[0])


def _ages_by_target(answer: MinimumAnswer) -> Section:
    """Which ages must, may, or do not help, a column for each target."""
    listed = (answer.together, *answer.targets) if len(answer.targets) > 1 else (answer.together,)
    ages = sorted({need.age_h for target in listed for need in target.ages})
    if not ages:
        return Section("Which ages must be there", ())
    columns = (
        Column(heading="break at"),
        *(Column(heading=f"to read {_name(target, answer.recommendation)}") for target in listed),
    )
    rows = tuple((age_label(age), *(_need_cell(target.ages, age) for target in listed)) for age in ages)
    note = (
        "must: without it no schedule with as many specimens keeps the error inside. may: it or another. no help: "
        "its specimens are better spent elsewhere (error 5 % larger with it). -: not offered for this target."
    )
    return Section("Which ages must be there", (Table(columns=columns, rows=rows, note=note),))


def _need_cell(needs: tuple[AgeNeed, ...], age_h: float) -> str:
    found = next((need for need in needs if need.age_h == age_h), None)
    return words.NONE if found is None else NEED_MARKS[found.need]


SCORE_NOTE = (
    "Ranking score: root of what schedules are ranked by, the squared error, twice the variance of the specimens and "
    "what the records say of the curve beyond one schedule. It is larger than the RMS error and only puts in order."
)


def _target(target: TargetMinimum, told: Recommendation) -> Section:
    """One target in full: the sentence, every age, the constraints, the rules."""
    blocks: list[Block] = [Paragraph(words.clean(target.sentence))]
    if target.constraints:
        blocks.append(_constraint_table(target.constraints, told))
    if target.rules:
        blocks.append(Bullets(tuple(rule_words(rule) for rule in target.rules)))
        blocks.append(Paragraph(SCORE_NOTE))
    return Section(f"To read {_name(target, told)}", tuple(blocks))


def _constraint_table(constraints: tuple[ConstraintPrice, ...], told: Recommendation) -> Table:
    has_cost = any(item.cost_more is not None for item in constraints)
    columns = (
        Column(heading="constraint"),
        Column(heading="error it adds", is_number=True),
        Column(heading="fewest specimens", is_number=True),
        Column(heading="more than without", is_number=True),
        *((Column(heading="cost it adds", is_number=True),) if has_cost else ()),
    )
    rows = tuple(
        (
            item.name,
            _added(item),
            words.NONE if item.fewest_specimens is None else str(item.fewest_specimens),
            words.NONE if item.specimens_more is None else f"{item.specimens_more:+d}".replace("+0", "0"),
            *((_cost_cell(item, told),) if has_cost else ()),
        )
        for item in constraints
    )
    note = (
        "error it adds: to the lowest RMS error, own batch. fewest specimens: - where the error is not kept inside. "
        "A constraint that costs nothing can be kept at some casting hour. Errors are those on batches left out: a "
        "stricter limit may read less by luck. A cost below 0: the schedule that it leads to is cheaper by itself."
    )
    return Table(columns=columns, rows=rows, note=note)


def _cost_cell(item: ConstraintPrice, told: Recommendation) -> str:
    if item.cost_more is None:
        return words.NONE
    sign = "+" if item.cost_more > 0 else ""
    return sign + words.money(item.cost_more, told.currency)


def _added(item: ConstraintPrice) -> str:
    if item.standing is None:
        return "cannot be kept"
    if item.rms_more is None or item.rms_more < NOISE:
        return "none seen"
    return words.share(item.rms_more, is_signed=True)


def rule_words(rule: LearntRule) -> str:
    """A rule with its support and its check."""
    text = (
        f"{words.clean(rule.text)} {rule.n_schedules} of {rule.n_scored} schedules; median ranking score "
        f"{words.share(rule.rms)} on these records."
    )
    if rule.n_held_out == 0 or rule.held_out_rms is None:
        return text
    return (
        f"{text} Learnt anew without each batch it was right on {rule.n_held_out_better} of {rule.n_held_out} "
        f"batches left out ({words.share(rule.held_out_rms)} against {words.share(rule.held_out_rms_others)} for the "
        "other schedules)."
    )


def _clause(answer: MinimumAnswer) -> Section:
    clause, chosen = answer.clause, answer.recommendation.recommended
    if clause.refused_because:
        return Section(clause.heading, (Paragraph(f"No clause is drafted: {words.clean(clause.refused_because)}"),))
    pairs = tuple((subject, words.clean(text)) for subject, text in clause.paragraphs)
    beside = (
        f"The clause asks for the fewest breaks. The schedule that the same plan recommends is "
        f"{schedule_label(chosen.schedule)}."
    )
    return Section(clause.heading, (Facts(pairs), Paragraph(beside)))
