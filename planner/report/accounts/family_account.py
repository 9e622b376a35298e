"""The answer for a family of mixes: one rule, its price for every mix, and whether it holds for a mix not seen."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Block, Column, Facts, Paragraph, Section, Table
from planner.report.text.clause.clause_text import clause_account
from planner.terms.labels import age_label, digits_label
from planner.terms.results.minimum.family_figures import Envelope, FamilyAnswer, FamilyRow
from planner.verdict.wording.family_words import left_out_words, not_when_words, rule_label, rule_words

STANDING = (
    "The figures are those of each mix's own batches; local standards, the project specification and the responsible "
    "engineer prevail."
)
WHERE_THE_REST_IS = "In full, with the clause: --full, or the files that --out writes."


def brief_family_account(answer: FamilyAnswer) -> tuple[Section, ...]:
    """The rule and the plans; the rest on demand."""
    return (_head(answer, is_brief=True), _plans(answer), *_guide(answer))


def family_account(answer: FamilyAnswer) -> tuple[Section, ...]:
    """Everything, the rule first."""
    envelopes = [item for item in (answer.together,) if item is not None]
    alone = [item for item in answer.targets if answer.together is None or answer.together.age_h != item.age_h]
    clause = () if answer.clause is None else clause_account(answer.clause)
    return (
        _head(answer, is_brief=False),
        _plans(answer),
        *_guide(answer),
        *(_envelope(item) for item in (*envelopes, *alone)),
        *clause,
    )


def _head(answer: FamilyAnswer, *, is_brief: bool) -> Section:
    n_failed = sum(row.exit != 0 for row in answer.rows)
    n_unjudged = sum(row.exit == 0 and row.judged_on is None for row in answer.rows)
    count = f"{len(answer.rows)} plans"
    count += f", {n_failed} without an answer" if n_failed else ""
    count += f", {n_unjudged} without breaks that judge" if n_unjudged else ""
    facts = [("Family", count)]
    together = answer.together
    if together is None:
        facts.append(("Rule", words.clean(answer.no_envelope_because)))
    else:
        facts += [("Rule", words.clean(rule_words(together))), ("Not seen", left_out_words(together))]
        if together.rule is not None:
            facts.append(("Where", words.clean(not_when_words(together))))
            facts.append(("Shares", _shares_words(together)))
    facts.append(("Clause", _clause_words(answer)))
    blocks: list[Block] = [Facts(tuple(facts)), Paragraph(STANDING)]
    if is_brief:
        blocks.append(Paragraph(WHERE_THE_REST_IS))
    return Section("One rule for a family of mixes", tuple(blocks))


def _clause_words(answer: FamilyAnswer) -> str:
    if answer.clause is not None:
        return "drafted for the rule"
    if answer.together is None or answer.together.rule is None:
        return "none: there is no rule for all"
    return "none: in some mix a target lies outside the breaks of the rule, so it would rest on extrapolation"


def _shares_words(envelope: Envelope) -> str:
    """Ages as shares of the target's maturity, for a mix that is not among them."""
    parts = [
        f"{age_label(item.age_h)} {digits_label(item.least, 2)}"
        if digits_label(item.least, 2) == digits_label(item.most, 2)
        else f"{age_label(item.age_h)} {digits_label(item.least, 2)} to {digits_label(item.most, 2)}"
        for item in envelope.shares
    ]
    return f"for another mix, times the earliest target's maturity: {'; '.join(parts)}"


def _plans(answer: FamilyAnswer) -> Section:
    note = (
        "at least: fewest breaks that keep the target of that plan; where none does (kept: NO) what it "
        "recommends. Errors "
        "on what the plan is judged on, held out."
    )
    asked = (("mix", False), ("target", False), ("within", True), ("wanted", True), ("evidence", False))
    least = (("kept", False), ("at least", False), ("n", True), ("RMS error", True), ("inside", True), ("cost", True))
    return Section(
        "Every plan's own minimum",
        (
            _plan_table(asked, tuple((row.plan, *_asked_cells(row)) for row in answer.rows)),
            _plan_table(least, tuple((row.plan, *_least_cells(row)) for row in answer.rows), note=note),
        ),
    )


def _plan_table(headings: tuple[tuple[str, bool], ...], rows: tuple[tuple[str, ...], ...], *, note: str = "") -> Table:
    columns = (("plan", False), *headings)
    return Table(
        columns=tuple(Column(heading=text, is_number=is_number) for text, is_number in columns),
        rows=tuple((words.clean(plan, limit=40), *cells) for plan, *cells in rows),
        note=note,
    )


def _asked_cells(row: FamilyRow) -> tuple[str, ...]:
    return (
        words.clean(row.mix, limit=30) or words.NONE,
        row.targets or words.NONE,
        words.whole_share(row.tolerance),
        words.whole_share(row.assurance),
        row.evidence or words.NONE,
    )


def _least_cells(row: FamilyRow) -> tuple[str, ...]:
    if row.exit:
        return (words.NONE, words.clean(row.problem, limit=240), *(words.NONE,) * 4)
    return (
        words.NONE if row.is_kept is None else "yes" if row.is_kept else "NO",
        words.NONE if row.own is None else rule_label(row.own),
        words.NONE if row.own is None else str(row.own.n_specimens),
        words.share(row.rms),
        words.whole_share(row.within_tolerance),
        words.money(row.cost, row.currency),
    )


def _guide(answer: FamilyAnswer) -> tuple[Section, ...]:
    """The table that a guide would print: per target the ages for all mixes, the worst mix, and not when."""
    if not answer.targets:
        return ()
    rows = tuple(
        (
            envelope.target,
            "none in common" if envelope.rule is None else rule_label(envelope.rule),
            f"{sum(item.is_kept for item in envelope.members)} of {len(envelope.members)}",
            words.clean(envelope.worst_mix, limit=30) or words.NONE,
            words.NONE if envelope.worst_loss is None else words.share(envelope.worst_loss, is_signed=True),
            words.clean(not_when_words(envelope)).removeprefix("not when: "),
        )
        for envelope in answer.targets
    )
    headings = ("target", "breaks for all mixes", "kept for", "worst mix", "its loss", "not when")
    note = "its loss: error of the mix read worst under the rule, less that of its own fewest breaks, in points."
    table = Table(columns=tuple(Column(heading=text) for text in headings), rows=rows, note=note)
    return (Section("For a guide: breaks by target", (table,)),)


def _envelope(envelope: Envelope) -> Section:
    """What one rule costs every mix, and every mix left out in turn."""
    priced = tuple(
        (
            words.clean(item.mix, limit=30),
            "yes" if item.is_kept else "NO" if item.is_offered else "not allowed",
            words.share(item.rms),
            words.NONE if item.own is None else rule_label(item.own),
            words.share(item.own_rms),
            words.NONE if item.specimens_more is None else f"{item.specimens_more:+d}",
            words.NONE if item.cost_more is None else f"{item.cost_more:+.0f} {words.clean(item.currency, limit=8)}",
        )
        for item in envelope.members
    )
    headings = ("mix", "kept", "RMS under the rule", "its own fewest", "its own RMS", "specimens more", "cost more")
    blocks: list[Block] = [
        Paragraph(words.clean(rule_words(envelope))),
        Table(columns=tuple(Column(heading=text) for text in headings), rows=priced),
        Paragraph(left_out_words(envelope)),
    ]
    if envelope.left_out:
        rows = tuple(
            (
                words.clean(item.mix, limit=30),
                "none in common" if item.rule is None else rule_label(item.rule),
                words.NONE if item.is_kept is None else "yes" if item.is_kept else "NO",
                words.share(item.rms),
            )
            for item in envelope.left_out
        )
        left = ("left out", "rule of the others", "kept for it", "RMS error")
        blocks.append(Table(columns=tuple(Column(heading=text) for text in left), rows=rows))
    return Section(f"One rule for all mixes, to read {envelope.target}", tuple(blocks))
