"""Whether an issued curve may be used, and what its verdicts and checks ask for. Once for every output."""

from __future__ import annotations

from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.acceptance import Verdict
from planner.issued_curve.rules.alarm_chances import AlarmChances
from planner.issued_curve.rules.lasting import Lasting
from planner.issued_curve.rules.rescaling import Refusal
from planner.issued_curve.rules.rule_words import alarm_words
from planner.issued_curve.rules.tonight import Ground
from planner.report.text import words
from planner.report.text.curve_words import maturity_words

NOT_CALIBRATED = "NOT CALIBRATED: no trial batch was cast, and no strength may be taken from it."
STRANGER = (
    "But its concrete DOES NOT GROW LIKE THE EARLIER BATCHES, which the safe readings rest on: the engineer decides."
)
VERDICT_WORDS = {
    Verdict.ISSUE: "The calibration is accepted.",
    Verdict.BREAK_MORE: "The calibration is NOT ACCEPTED YET: break more companions before this curve is used.",
    Verdict.REPEAT: "The calibration is REFUSED: repeat the trial batch. This curve is not to be used.",
    Verdict.NOT_JUDGED: "The calibration is NOT JUDGED: no site-cured companions were broken at a target.",
}
GROUND_WORDS = {
    Ground.COMPANIONS_BELOW_REQUIRED: "companions below the required strength",
    Ground.SAFE_READING_BELOW_REQUIRED: "safe reading below the required strength",
    Ground.LOW_CHECK: "low check",
    Ground.OUTSIDE_RANGE: "outside the range of the curve",
    Ground.CURVE_WITHDRAWN: "curve withdrawn",
    Ground.NO_REQUIRED_STRENGTH: "no required strength stated",
    Ground.NO_SAFE_READING: "no safe reading",
}
SHORT_GROUNDS = {  # in the table of checks, whose note says them in full
    Ground.COMPANIONS_BELOW_REQUIRED: "companions",
    Ground.SAFE_READING_BELOW_REQUIRED: "safe reading",
    Ground.LOW_CHECK: "low",
    Ground.OUTSIDE_RANGE: "outside",
    Ground.CURVE_WITHDRAWN: "withdrawn",
    Ground.NO_REQUIRED_STRENGTH: "nothing required",
    Ground.NO_SAFE_READING: "no safe reading",
}
LASTING_WORDS = {
    Lasting.KEEP: "The curve is kept.",
    Lasting.RE_SCALE: "The curve is WITHDRAWN and replaced by a lower one under a new number.",
    Lasting.RECALIBRATE: "The curve is WITHDRAWN: calibrate anew on a new trial batch.",
}
REFUSAL_WORDS = {
    Refusal.TOO_FEW_CHECKS: "fewer than three pours speak of the change",
    Refusal.NOT_SPANNED: "the checks do not span the maturities that decide",
    Refusal.NOT_FLAT: "the ratio of broken to read changes with maturity",
    Refusal.NOT_LOWER: "the checks are not lower than the curve on the mean, and a curve is never scaled up",
}


def status_words(issue: Issue) -> str:
    """Whether the curve may be used, in one sentence."""
    accepted = issue.acceptance
    if accepted is not None and (issue.curve.is_calibrated or not accepted.lets_rely):
        said = VERDICT_WORDS[accepted.verdict]
        return f"{said} {STRANGER}" if issue.is_stranger and issue.curve.is_calibrated else said
    if not issue.curve.is_calibrated:
        return NOT_CALIBRATED
    if issue.curve.scale < 1.0:
        return (
            f"Curve {issue.curve.supersedes} scaled down by its site checks: in force when the responsible engineer "
            "has signed it."
        )
    if issue.curve.basis == "records":
        return (
            f"No trial batch was cast: this is the mean of {issue.curve.promise.n_batches} earlier batches of the same "
            "mix. In force when the responsible engineer has signed it."
        )
    return "The calibration is NOT JUDGED: the error on its own batch is not known."


def is_usable(issue: Issue) -> bool:
    """Whether the acceptance rule lets the curve be used."""
    if issue.curve.scale < 1.0 or issue.curve.basis == "records":
        return issue.curve.is_calibrated
    is_accepted = issue.acceptance is not None and issue.acceptance.verdict is Verdict.ISSUE
    return issue.curve.is_calibrated and is_accepted and not issue.is_stranger


def break_more_words(issue: Issue) -> str:
    """Which companions are to be broken in addition; "" where none are."""
    if issue.acceptance is None or not issue.acceptance.break_more:
        return ""
    asked = "; ".join(
        f"{item.n_specimens} more of batch {words.clean(item.batch, limit=24)} at a maturity near "
        f"{maturity_words(item.maturity_h, issue.curve.maturity)}"
        for item in issue.acceptance.break_more
    )
    wanted: dict[str, int] = {}
    for item in issue.acceptance.break_more:
        wanted[item.batch] = wanted.get(item.batch, 0) + item.n_specimens
    return (
        f"Break site-cured companions: {asked}. Each is compared at its own maturity, whatever its age. "
        f"{_spares(issue, wanted)} Where none are left, or that maturity has passed, repeat the trial batch."
    )


def _spares(issue: Issue, wanted: dict[str, int]) -> str:
    """Which specimens they are, by the labels of the register."""
    if not issue.n_spares:
        return "Take what still lies on site of that batch: no spares were planned."
    taken = []
    for batch, number in wanted.items():
        name, last = words.clean(batch, limit=24), min(number, issue.n_spares)
        taken.append(f"{name}-spare-1" + (f" to {name}-spare-{last}" if last > 1 else ""))
    few = " (fewer than asked)" if any(number > issue.n_spares for number in wanted.values()) else ""
    return (
        f"Take what still lies on site of that batch, then the spares of the register, {', '.join(taken)}{few}, laid "
        "beside the work at once."
    )


def curve_alarm_words(curve: IssuedCurve, chances: AlarmChances) -> str:
    """How often the lasting rule withdraws this curve though it is sound."""
    return alarm_words(chances, n_curves=curve.n_curves(), is_from_records=curve.basis == "records")
