"""The files of an issued curve and of its site checks: names, and what makes the content."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.pour_answer import PourAnswer
from planner.issued_curve.site_answer import SiteAnswer
from planner.report.documents.pages.after_casting_pages import render_pour, render_site_checks
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.values.curve_document import bare_curve_document, curve_document, render_curve_csv
from planner.report.documents.values.pour_document import pour_document
from planner.report.documents.values.recommendation_document import write_json
from planner.report.documents.values.site_checks_document import site_checks_document

Files = dict[str, Callable[[], bytes]]


def curve_files(issue: Issue) -> Files:
    """The sheet, the curve for programs and its table."""
    return {
        "curve.html": lambda: render_curve_sheet(issue).encode("utf-8"),
        "curve.json": lambda: write_json(curve_document(issue)).encode("utf-8"),
        "curve.csv": lambda: render_curve_csv(issue.curve).encode("utf-8"),
    }


def site_checks_files(answer: SiteAnswer, rescaled: Issue | None, *, standing: Sequence[str]) -> Files:
    """The checks, and the curve under its new number where it was scaled down.

    Parameters
    ----------
    rescaled
        That curve with what its sheet says; None where it is kept or calibrated anew.
    standing
        Cautions that stand on every output.
    """
    files: Files = {
        "site-checks.html": lambda: render_site_checks(answer, standing=standing).encode("utf-8"),
        "site-checks.json": lambda: write_json(site_checks_document(answer)).encode("utf-8"),
    }
    if rescaled is not None:  # beside the curve it supersedes, which stays for the record
        files |= _rescaled_files(rescaled, rescaled.curve)
    return files


def pour_files(answer: PourAnswer, *, standing: Sequence[str]) -> Files:
    """One pour read from its early breaks."""
    return {
        "pour.html": lambda: render_pour(answer, standing=standing).encode("utf-8"),
        "pour.json": lambda: write_json(pour_document(answer)).encode("utf-8"),
    }


def _rescaled_files(issue: Issue, curve: IssuedCurve) -> Files:
    name = f"curve-{curve.number}"
    return {
        f"{name}.html": lambda: render_curve_sheet(issue).encode("utf-8"),
        f"{name}.json": lambda: write_json(bare_curve_document(curve)).encode("utf-8"),
        f"{name}.csv": lambda: render_curve_csv(curve).encode("utf-8"),
    }
