"""A folder of plans as one family of mixes: every plan's minimum, one rule for all, one clause."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from planner import __version__
from planner.pipeline import judged_minimum
from planner.questions.answer import Answer, document_text, told_in
from planner.questions.recommending import Progress, unseen
from planner.read import load_plan
from planner.report.accounts.family_account import brief_family_account, family_account
from planner.report.documents.clause_file import clause_docx
from planner.report.documents.pages.clause_page import render_clause
from planner.report.documents.values.family_document import family_document
from planner.report.text.refusal_words import refused_in
from planner.steps.searching import Work
from planner.sweeping.sweep_plans import plans_in
from planner.sweeping.sweep_rows import failed_row, target_label
from planner.terms.labels import age_label
from planner.terms.plan.settings import Plan
from planner.terms.plan.shown_as import ShownAs, shown_as, shown_together
from planner.terms.problems import InputError, NoScheduleError
from planner.terms.results.minimum.clause_terms import ClauseTerms
from planner.terms.results.minimum.family_figures import Envelope, FamilyAnswer, FamilyRow, FamilyRule
from planner.terms.results.minimum.minimum_figures import MinimumAnswer
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.family.envelope import envelope_of
from planner.verdict.answers.family.family_clause import family_clause
from planner.verdict.answers.family.member import Member, member_of
from planner.verdict.answers.minimum.allowed_programmes import AllowedProgrammes, allowed_programmes
from planner.verdict.answers.minimum.clause import clause_of
from planner.verdict.answers.minimum.spans import is_extrapolating
from planner.verdict.selection.programmes.programme_table import ProgrammeTable
from planner.verdict.selection.search import Search
from planner.verdict.wording.family_words import NO_TWO_MIXES, other_targets_words

TITLE = "A family of mixes"


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """One plan with its minimum and all its programmes."""

    name: str
    answer: MinimumAnswer
    together: _Programmes | None
    by_target: tuple[tuple[float, Member], ...]
    shown: ShownAs


@dataclass(frozen=True, slots=True, eq=False)
class _Programmes:
    """What is kept of a search until the other mixes are known."""

    allowed: AllowedProgrammes
    table: ProgrammeTable
    member: Member


def family_minimum(
    folder: str | Path,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
    is_outside_allowed: bool = False,
) -> Answer[FamilyAnswer]:
    """Say the least for every plan in a folder, and the fewest breaks that keep the target for all of them.

    Parameters as in :func:`planner.recommend`; what is wrong with a plan becomes its row.

    Raises
    ------
    InputError
        Where there is no plan.
    """
    found = plans_in(Path(folder))
    work = Work.of(n_draws, seed, workers, None)
    judged: list[_Judged] = []
    rows: list[FamilyRow] = []
    for done, (name, path) in enumerate(found, start=1):
        for item in _asked(name, path, work, is_outside_allowed=is_outside_allowed):
            if isinstance(item, FamilyRow):
                rows.append(item)
            else:
                judged.append(item)
                rows.append(_row(item))
        progress(done, len(found), "Asking plans for their least")
    result = _family(tuple(rows), judged)
    document = family_document(result, version=__version__)
    clause = result.clause
    shown = shown_together(item.shown for item in judged)
    files = {"family.json": lambda: document_text(document).encode("utf-8")}
    if clause is not None:
        files["clause.html"] = lambda: render_clause(clause, title=TITLE).encode("utf-8")
        files["clause.docx"] = lambda: clause_docx(clause, title=TITLE)
    return Answer(
        result=result,
        document=document,
        sections=told_in(shown, lambda: family_account(result)),
        brief=told_in(shown, lambda: brief_family_account(result)),
        shown=shown,
        files=files,
    )


def _asked(name: str, path: Path, work: Work, *, is_outside_allowed: bool) -> Iterator[_Judged | FamilyRow]:
    """The minimum of one plan, or the row that says why it has none."""
    plan: Plan | None = None
    try:
        plan = load_plan(path, allow_outside=is_outside_allowed)
        shown = shown_as(plan.settings, plan.records)
        with refused_in(shown):
            answer, told = judged_minimum(plan, work, told_of=partial(_programmes, name), asks="every programme")
    except (InputError, NoScheduleError) as error:
        found = failed_row(name, error, target="" if plan is None else target_label(plan))
        yield FamilyRow(plan=name, exit=found.exit, problem=found.problem, targets=found.target)
        return
    ages_h = plan.settings.target.ages_h
    alone = told[1:] if len(told) > 1 else told
    yield _Judged(
        name,
        answer,
        told[0],
        tuple((age_h, one.member) for age_h, one in zip(ages_h, alone, strict=False) if one is not None),
        shown,
    )


def _programmes(name: str, search: Search, advice: Recommendation) -> _Programmes | None:
    """None where no programme can be judged."""
    allowed = allowed_programmes(search)
    if allowed is None:
        return None
    table = allowed.table
    return _Programmes(allowed, table, member_of(name, advice, search, table))


def _row(item: _Judged) -> FamilyRow:
    found, target = item.answer.recommendation, item.answer.together
    shown = target.fewest or target.nearest
    later = None if shown is None or target.judged_on == "own batch" else shown.next_batch
    own_rms = None if shown is None else shown.own_batch_rms
    own_share = None if shown is None else shown.own_batch_within_tolerance
    return FamilyRow(
        plan=item.name,
        exit=0,
        mix=found.valid_for.mix,
        targets=", ".join(found.target_label(age) for age in found.target_ages_h),
        tolerance=found.tolerance,
        assurance=found.assurance,
        evidence=found.evidence.grade,
        judged_on=target.judged_on,
        is_kept=None if target.judged_on is None else bool(target.leasts),
        own=None if shown is None else FamilyRule(shown.schedule, shown.n_trial_batches),
        rms=own_rms if later is None else later.rms,
        within_tolerance=own_share if later is None else later.within_tolerance,
        cost=None if shown is None else shown.cost,
        currency=found.currency,
    )


def _family(rows: tuple[FamilyRow, ...], judged: Sequence[_Judged]) -> FamilyAnswer:
    able = [item for item in judged if item.together is not None]
    targets = tuple(_targets(able))
    asked = {item.answer.recommendation.target_ages_h for item in able}
    why = NO_TWO_MIXES if len(able) < 2 else other_targets_words(asked) if len(asked) > 1 else ""
    if why:
        return FamilyAnswer(rows=rows, together=None, no_envelope_because=why, targets=targets, clause=None)
    ages_h = asked.pop()
    together = envelope_of(
        [item.together.member for item in able if item.together is not None],
        target=", ".join(age_label(age) for age in ages_h),
        age_h=ages_h[0] if len(ages_h) == 1 else None,
    )
    return FamilyAnswer(
        rows=rows, together=together, no_envelope_because="", targets=targets, clause=_clause(together, able)
    )


def _targets(able: Sequence[_Judged]) -> Iterator[Envelope]:
    """An envelope for every target that two plans or more have."""
    ages_h = sorted({age_h for item in able for age_h, _ in item.by_target})
    for age_h in ages_h:
        members = [member for item in able for own_h, member in item.by_target if own_h == age_h]
        if len(members) > 1:
            yield envelope_of(members, target=age_label(age_h), age_h=age_h)


def _clause(together: Envelope, able: Sequence[_Judged]) -> ClauseTerms | None:
    """The clause of the mixes that the rule keeps the target for; None without a rule, or where it extrapolates."""
    rule = together.rule
    if rule is None:
        return None
    kept = {member.plan for member in together.members if member.is_kept}
    clauses = []
    for item in able:
        if item.name not in kept or item.together is None:
            continue
        allowed, answer = item.together.allowed, item.answer
        programme = allowed.written_down(item.together.table, item.together.member.row_of(rule))
        if is_extrapolating(allowed.rule.cells, programme):
            return None
        clauses.append(clause_of(allowed.search, answer.recommendation, answer.together, programme))
    return family_clause(clauses)
