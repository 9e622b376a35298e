"""The answer to a specification writer: the first screen in a dozen lines, and everything in sections."""

from __future__ import annotations

from planner.report.accounts.action_account import minded_facts
from planner.report.accounts.full_account import basis_section, cautions_section, has_content
from planner.report.accounts.parts.constraint_table import constraint_table
from planner.report.accounts.parts.drawn_account import headed
from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.report.text.clause.clause_text import clause_account
from planner.report.text.clause.clause_values import ages_listed, batches_words
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.minimum.clause_terms import ClauseTerms
from planner.terms.results.minimum.minimum_figures import AgeNeed, Least, MinimumAnswer, TargetMinimum
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.wording.minimum_words import READ_ON, figures_words, least_words, programme_words, rule_words

NEED_MARKS = {"demanded": "demanded", "must be there": "must", "may be there": "may", "does not help": "no help"}
LEAST_TERMS = {
    "breaks": "Fewest breaks",
    "ages": "Fewest ages",
    "latest first break": "Latest start",
    "earliest last break": "Earliest end",
}
WHERE_THE_REST_IS = "--full, or the files that --out writes (clause.html, clause.docx)."


def minimum_account(answer: MinimumAnswer) -> tuple[Section, ...]:
    """Everything about the least, the answer first, the clause after it."""
    advice = answer.recommendation
    targets = answer.targets if len(answer.targets) > 1 else ()
    sections = (
        headed(Section(_heading(advice), (Facts(_answer_facts(answer)),)), advice),
        _least_section(answer),
        *clause_account(answer.clause),
        _ages_by_target(answer),
        *(_target(target, advice) for target in (answer.together, *targets)),
        basis_section(advice),
        cautions_section(advice),
    )
    return tuple(section for section in sections if section.blocks and has_content(section))


def brief_minimum_account(answer: MinimumAnswer) -> tuple[Section, ...]:
    """The first screen: the answer, the gravest cautions in their first sentences, the least for every target."""
    advice = answer.recommendation
    first = Section(_heading(advice), (Facts((*_answer_facts(answer), *minded_facts(advice, WHERE_THE_REST_IS))),))
    beside = (_least_section(answer),) if len(answer.targets) > 1 and answer.together.judged_on is not None else ()
    sections = (headed(first, advice), *beside)
    return tuple(section for section in sections if has_content(section))


def _heading(advice: Recommendation) -> str:
    heading = words.clean(advice.title, limit=120) or "The least that has to be broken"
    return f"{heading}: fewest breaks"


def _answer_facts(answer: MinimumAnswer) -> tuple[tuple[str, str], ...]:
    """The least of all targets together, term by term."""
    advice, target = answer.recommendation, answer.together
    facts = [("Target", _wanted(advice, target))]
    if target.judged_on is None:
        facts.append(("Least", f"cannot be told: {words.clean(target.unjudged_because)}"))
        facts.append(("Ages", f"{schedule_label(advice.recommended.schedule)}, the recommended ones, as an order only"))
    elif target.leasts:
        facts.append(("Least", _told(target.leasts[0], target, advice)))
        others = [item for item in target.leasts[1:] if item.programme != target.leasts[0].programme]
        facts += [(LEAST_TERMS[item.of], f"{least_words(item)}: {_marked(item, target, advice)}") for item in others]
        if target.n_keeping < target.n_programmes:
            facts.append(("How many", f"{target.n_keeping} of {target.n_programmes} allowed programmes keep it"))
    else:
        facts.append(("Least", f"NONE of {target.n_programmes} allowed programmes keeps it"))
        if target.nearest is not None:
            facts.append(("Recommended", _figures(target.nearest, target, advice)))
        facts += [("Own batch only", _own(item, advice)) for item in target.own_batch[:1]]
    if target.judged_on is not None:
        facts.append(("Ages", _needs_words(target)))
    if target.customary is not None:
        facts.append(("Customary", _figures(target.customary, target, advice)))
    if target.at_least is not None and target.at_least.is_asked:
        facts.append((target.at_least.standard, _standard_words(answer)))
    facts.append(("Clause", _clause_words(answer.clause)))
    return tuple(facts)


def _wanted(advice: Recommendation, target: TargetMinimum) -> str:
    read = "" if target.judged_on is None else f" of {READ_ON[target.judged_on]}"
    return (
        f"{words.asked_words(advice)} within "
        f"{words.share(advice.tolerance)}, in "
        f"{words.whole_share(advice.assurance)}{read or ' of batches'}"
    )


def _told(item: Least, target: TargetMinimum, advice: Recommendation) -> str:
    return f"at least {_marked(item, target, advice)}"


def _marked(item: Least, target: TargetMinimum, advice: Recommendation) -> str:
    mark = "; extrapolates" if item.is_extrapolating else ""
    return f"{_figures(item.programme, target, advice)}{mark}"


def _figures(programme: Programme, target: TargetMinimum, advice: Recommendation) -> str:
    judged_on = target.judged_on or "own batch"
    cost = "" if programme.cost is None else f"; {words.money(programme.cost, advice.currency)}"
    return f"{programme_words(programme)}: {figures_words(programme, judged_on)}{cost}"


def _own(item: Least, advice: Recommendation) -> str:
    programme = item.programme
    cost = "" if programme.cost is None else f"; {words.money(programme.cost, advice.currency)}"
    return (
        f"at least {programme_words(programme)}: {figures_words(programme, 'own batch')}{cost}; how pours differ is "
        "not in it"
    )


def _needs_words(target: TargetMinimum) -> str:
    def named(*needs: str) -> str:
        return ", ".join(age_label(item.age_h) for item in target.ages if item.need in needs)

    demanded, must = named("demanded"), named("must be there")
    parts = [f"demanded by the plan: {demanded}"] if demanded else []
    if not target.leasts:
        return "; ".join((*parts, "none by itself brings the target within reach"))
    parts.append(f"must be there: {must}" if must else "no single age must be there")
    return "; ".join(parts)


def _standard_words(answer: MinimumAnswer) -> str:
    found = answer.together.at_least
    assert found is not None
    asks = f"asks for {found.fewest_specimens} specimens at {found.fewest_ages} ages (from memory)"
    if found.programme is None:
        return f"{asks}; the plan allows no such programme: raise [budget] specimens or [choices] most_ages"
    return f"{asks}; least that satisfies both {_figures(found.programme, answer.together, answer.recommendation)}"


def _clause_words(clause: ClauseTerms) -> str:
    if clause.kind == "refused":
        return f"none is drafted: {words.clean(clause.refused_because)}"
    text = f"{batches_words(clause.n_trial_batches)}, {ages_listed(clause.ages)}"
    if clause.kind == "interim":
        return f"INTERIM, promises nothing; {text}"
    asks = clause.standard
    if asks is not None and not asks.is_followed:
        text += f". {asks.standard} asks for more ({asks.fewest_specimens} at {asks.fewest_ages} ages, from memory)"
        text += f': --at-least "{asks.standard}"'
    return text


def _least_section(answer: MinimumAnswer) -> Section:
    """The least of every target in one table."""
    listed = (answer.together, *answer.targets) if len(answer.targets) > 1 else (answer.together,)
    advice = answer.recommendation
    shown = [programme for target in listed if (programme := _shown(target)) is not None]
    has_cost = any(programme.cost is not None for programme in shown)
    columns = (
        Column(heading="to read"),
        Column(heading="keeps it"),
        Column(heading="at least"),
        Column(heading="n", is_number=True),
        Column(heading="RMS error", is_number=True),
        Column(heading="inside", is_number=True),
        Column(heading="lower 95 %", is_number=True),
        *((Column(heading="cost", is_number=True),) if has_cost else ()),
    )
    rows = tuple(_least_row(target, advice, has_cost=has_cost) for target in listed)
    note = (
        f"inside: share within {words.share(advice.tolerance)} at every target of the row, "
        f"{words.whole_share(advice.assurance)} wanted, "
        f"on {_basis(answer.together)}, of the fixed programme, held out. Where nothing keeps it, the recommended one "
        "stands there."
    )
    return Section("The least for every target", (Table(columns=columns, rows=rows, n_marked=1, note=note),))


def _basis(target: TargetMinimum) -> str:
    return "nothing that was broken" if target.judged_on is None else READ_ON[target.judged_on]


def _shown(target: TargetMinimum) -> Programme | None:
    return target.fewest or target.nearest


def _least_row(target: TargetMinimum, advice: Recommendation, *, has_cost: bool) -> tuple[str, ...]:
    name, shown = _name(target, advice), _shown(target)
    if shown is None:
        return (name, "not told", *(words.NONE,) * (6 if has_cost else 5))
    is_own = target.judged_on == "own batch" or shown.next_batch is None
    later = shown.next_batch
    rms = shown.own_batch_rms if later is None or is_own else later.rms
    inside = shown.own_batch_within_tolerance if later is None or is_own else later.within_tolerance
    lower = None if later is None or is_own else later.within_tolerance_lower_95
    number = "" if shown.n_trial_batches == 1 else f"{shown.n_trial_batches} x ("
    label = f"{number}{schedule_label(shown.schedule)}{')' if number else ''}"
    return (
        name,
        "yes" if target.leasts else "NO",
        label,
        str(shown.n_specimens),
        words.share(rms),
        words.whole_share(inside),
        words.lower_bound(lower),
        *((words.money(shown.cost, advice.currency),) if has_cost else ()),
    )


def _name(target: TargetMinimum, advice: Recommendation) -> str:
    if target.age_h is not None:
        return advice.target_label(target.age_h)
    return "all of them" if len(advice.target_ages_h) > 1 else advice.target_label(advice.target_ages_h[0])


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
        "must: no allowed programme without it keeps the target, whatever its specimens. demanded: by the plan. "
        "may: it "
        "or another; the figure is the lowest error without it less the lowest with it. no help: the lowest error with "
        "it is 5 % larger than without. -: not offered for this target. Where later pours judge, the recommended ages, "
        "ranked on the own batch, may be others."
    )
    return Section("Which ages must be there", (Table(columns=columns, rows=rows, note=note),))


def _need_cell(needs: tuple[AgeNeed, ...], age_h: float) -> str:
    found = next((need for need in needs if need.age_h == age_h), None)
    if found is None:
        return words.NONE
    mark = NEED_MARKS[found.need]
    if found.rms_with is None or found.rms_without is None:
        return mark
    return f"{mark} {words.share(found.rms_without - found.rms_with, is_signed=True)}"


def _target(target: TargetMinimum, advice: Recommendation) -> Section:
    """One target in full: the sentence, the leasts, the constraints, the rules."""
    blocks: list[Block] = [Paragraph(words.clean(target.sentence))]
    leasts = target.leasts or target.own_batch
    if leasts:
        basis = READ_ON["own batch"] if target.own_batch else _basis(target)
        judged_on = "own batch" if target.own_batch else target.judged_on or "own batch"
        rows = tuple(
            (
                least_words(item),
                programme_words(item.programme),
                figures_words(item.programme, judged_on),
                words.money(item.programme.cost, advice.currency),
                "yes" if item.is_extrapolating else "no",
            )
            for item in leasts
        )
        headings = ("least", "programme", f"on {basis}", "cost", "extrapolates")
        blocks.append(Table(columns=tuple(Column(heading=text) for text in headings), rows=rows))
    if target.rules:
        blocks.append(Bullets(tuple(words.clean(rule_words(rule)) for rule in target.rules)))
    if target.constraints:
        blocks.append(constraint_table(target.constraints, advice))
    return Section(f"To read {_name(target, advice)}", tuple(blocks))
