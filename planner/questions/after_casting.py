"""The questions after casting: the curve of a broken trial batch, its site checks, a pour with early breaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from planner.questions.answer import Answer, told_in
from planner.questions.curve_answers import CurveAnswer, SiteChecksAnswer
from planner.questions.loading import load_plan
from planner.questions.recommending import Progress, unseen
from planner.terms.plan.shown_as import shown_as

if TYPE_CHECKING:
    from planner.issued_curve.calibration.issue import Issue
    from planner.issued_curve.calibration.issued import IssuedCurve
    from planner.issued_curve.pour_answer import PourAnswer

CURVE_FILE = "curve.json"


def issue_curve(
    plan: str | Path,
    trial: str | Path | None = None,
    *,
    temperatures: str | Path | None = None,
    cast: str | Sequence[str] = (),
    replacing: str | Path | None = None,
    allow_outside: bool = False,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
) -> CurveAnswer:
    """Fit the recommended curve to the broken trial batch and judge it by its companions.

    Without a trial batch the mean curve of the earlier batches, where the plan's ``[programme] trial_batches`` is 0.
    ``answer.read(maturity)`` reads strengths, ``answer.curve`` is the curve itself; ``answer.table``, ``readings`` and
    ``checks`` are tables of pandas, ``answer.plot()`` draws the picture of the sheet.

    Parameters
    ----------
    plan
        The plan's file: its clock and geometry hold for the breaks too.
    trial
        A table of breaks, or the workbook that ``recommend`` wrote, filled and saved; None: none was cast.
    temperatures
        Of all of them; not needed with a maturity column or a filled sheet of the workbook.
    cast
        What :func:`planner.recommend` was given: a casting time can lead to another schedule.
    replacing
        The ``curve.json`` that the new one supersedes, unless nothing has changed; not there: the curve bears the
        number 1.
    allow_outside
        Whether the plan may name files outside its folder.

    Others as in :func:`planner.recommend`.

    Raises
    ------
    InputError, NoScheduleError
        As :func:`planner.recommend`; InputError too where the breaks cannot be fitted.
    """
    from planner.laboratory.casting.casting_times import cast_at
    from planner.read import load_later

    inputs = cast_at(load_plan(plan, allow_outside=allow_outside), [cast] if isinstance(cast, str) else list(cast))
    given = None if trial is None else load_later(plan, trial, temperatures)
    # What computes is loaded when the files are good: it takes longer than to refuse them.
    from planner.after_casting.issuing import issue_curve as issue
    from planner.after_casting.records_issuing import check_relied_on, issue_records_curve
    from planner.pipeline import recommend as compute
    from planner.questions.first_compile import compile_first
    from planner.report.accounts.after_casting.curve_account import curve_account
    from planner.report.documents.curve_files import curve_files
    from planner.report.documents.values.curve_document import curve_document
    from planner.report.text.refusal_words import refused_in

    if given is None:
        check_relied_on(inputs)
    before = _before(replacing)
    shown = shown_as(inputs.settings, inputs.records, *(() if given is None else (given.records,)))
    compile_first(progress)
    with refused_in(shown):
        advice = compute(inputs, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
        issued = issue_records_curve(inputs, advice) if given is None else issue(inputs, given, advice)
    result = _numbered(issued, before)
    return CurveAnswer(
        result=result,
        document=curve_document(result),
        sections=told_in(shown, lambda: curve_account(result)),
        shown=shown,
        files=curve_files(result),
    )


def site_checks(
    plan: str | Path,
    curve: str | Path,
    checks: str | Path,
    *,
    temperatures: str | Path | None = None,
    allow_outside: bool = False,
) -> SiteChecksAnswer:
    """Judge the site checks of an issued curve: tonight's rule and the lasting rule.

    Parameters
    ----------
    plan
        The plan's file that the curve was issued for.
    curve
        The ``curve.json`` that is checked.
    checks
        Site-cured companions of the pours, a batch a pour, rows in order of casting.
    temperatures
        Of all of them; not needed with a maturity column.
    allow_outside
        Whether the plan may name files outside its folder.

    Raises
    ------
    InputError
        Where the curve is another plan's, or a file cannot be used.
    """
    from planner.after_casting.site_checking import check_pours, rescaled_issue
    from planner.read import load_later
    from planner.read.curve_file import read_curve
    from planner.report.accounts.after_casting.site_checks_account import site_checks_account
    from planner.report.documents.curve_files import site_checks_files
    from planner.report.documents.values.site_checks_document import site_checks_document
    from planner.report.text.refusal_words import refused_in
    from planner.verdict.wording.cautions.cautions import STANDING

    inputs = load_plan(plan, allow_outside=allow_outside)
    checked = read_curve(curve)
    given = load_later(plan, checks, temperatures)
    shown = shown_as(inputs.settings, inputs.records, given.records)
    with refused_in(shown):
        result = check_pours(inputs, checked, given, curve_file=Path(curve).name)
    rescaled = rescaled_issue(result, standing=STANDING)
    return SiteChecksAnswer(
        result=result,
        document=site_checks_document(result),
        sections=told_in(shown, lambda: site_checks_account(result)),
        shown=shown,
        files=site_checks_files(result, rescaled, standing=STANDING),
    )


def read_pour(
    plan: str | Path,
    curve: str | Path,
    pour: str | Path,
    *,
    temperatures: str | Path | None = None,
    allow_outside: bool = False,
) -> Answer[PourAnswer]:
    """Read one later pour with an issued curve and the pour's own early breaks.

    Parameters
    ----------
    plan
        The plan's file that the curve was issued for; its ``[pours]`` let the curve carry what is needed.
    curve
        The ``curve.json``.
    pour
        Early breaks of one pour.
    temperatures
        Of the early specimens (curing standard) and of the pour (curing site); not needed with a maturity column.
    allow_outside
        Whether the plan may name files outside its folder.

    Raises
    ------
    InputError
        Where the curve is another plan's or its inputs changed, or the early breaks cannot serve.
    """
    from planner.after_casting.pour_reading import read_pour as compute
    from planner.read import load_later
    from planner.read.curve_file import read_curve
    from planner.report.accounts.after_casting.pour_account import pour_account
    from planner.report.documents.curve_files import pour_files
    from planner.report.documents.values.pour_document import pour_document
    from planner.report.text.refusal_words import refused_in
    from planner.verdict.wording.cautions.cautions import STANDING

    inputs = load_plan(plan, allow_outside=allow_outside)
    read = read_curve(curve)
    given = load_later(plan, pour, temperatures)
    shown = shown_as(inputs.settings, inputs.records, given.records)
    with refused_in(shown):
        result = compute(inputs, read, given, curve_file=Path(curve).name)
    return Answer(
        result=result,
        document=pour_document(result),
        sections=told_in(shown, lambda: pour_account(result)),
        shown=shown,
        files=pour_files(result, standing=STANDING),
    )


def _before(replacing: str | Path | None) -> IssuedCurve | None:
    from planner.read.curve_file import read_curve

    return None if replacing is None or not Path(replacing).exists() else read_curve(replacing)


def _numbered(issue: Issue, before: IssuedCurve | None) -> Issue:
    """The curve under the number after that of the one it supersedes; under the same where nothing has changed."""
    if before is None:
        return issue
    again = replace(issue.curve, number=before.number, supersedes=before.supersedes)
    if again != before:
        again = replace(issue.curve, number=before.number + 1, supersedes=before.number)
    return replace(issue, curve=again)
