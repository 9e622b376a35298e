"""Every caution on an issued curve: when it is given, when not, and at its limit."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planner.issued_curve.calibration.expectation import Likeness
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import RECORDS_CURVE
from planner.issued_curve.rules.acceptance import Verdict
from planner.issued_curve.wording import issue_cautions as module
from planner.issued_curve.wording.issue_cautions import issue_cautions
from planner.terms.maturity import MaturitySetting
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from tests.issued_curve.trial_files import issued

Change = Callable[[Issue], Issue]
OWN = 0.04
BY_PAIRS = CurveConversion(
    from_geometry="cube 100 mm", to_geometry="cylinder 150x300 mm", form="ratio", factor=0.84, exponent=1.0, rms=0.02,
    span_mpa=(8.0, 60.0), n_pairs=20, n_batches=5,
)  # fmt: skip
STATED = replace(BY_PAIRS, span_mpa=None, n_pairs=0, n_batches=0)
RECORDS: dict[str, Any] = {"basis": "records", "curve": RECORDS_CURVE}


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    """An accepted curve of one trial batch that gives cause for no caution."""
    made = issued(tmp_path_factory.mktemp("trial"), "T1")
    assert made.acceptance is not None
    judged = tuple(check for check in made.acceptance.checks if check.is_judged)
    promise = replace(made.curve.promise, own_rms=OWN, later_rms=1.5 * OWN, safe_factor=1.2)
    return replace(
        made,
        curve=replace(made.curve, promise=promise, temperature_c=(20.0, 35.0)),
        acceptance=replace(made.acceptance, verdict=Verdict.ISSUE, checks=judged),
        expectations=tuple(replace(item, likeness=Likeness.AS_EXPECTED) for item in made.expectations),
    )


def of_curve(**changed: Any) -> Change:
    return lambda issue: replace(issue, curve=replace(issue.curve, **changed))


def of_promise(**changed: Any) -> Change:
    return lambda issue: replace(issue, curve=replace(issue.curve, promise=replace(issue.curve.promise, **changed)))


def of_acceptance(**changed: Any) -> Change:
    def change(issue: Issue) -> Issue:
        assert issue.acceptance is not None
        return replace(issue, acceptance=replace(issue.acceptance, **changed))

    return change


def likeness(which: Likeness) -> Change:
    return lambda issue: replace(
        issue, expectations=tuple(replace(item, likeness=which) for item in issue.expectations)
    )


def only_checks_at(*ages_h: float) -> Change:
    def change(issue: Issue) -> Issue:
        assert issue.acceptance is not None
        kept = tuple(check for check in issue.acceptance.checks if check.companions.age_h in ages_h)
        return replace(issue, acceptance=replace(issue.acceptance, checks=kept))

    return change


def unjudged_beside(issue: Issue) -> Issue:
    """A check outside the breaks beside those that are judged."""
    assert issue.acceptance is not None
    first, *_ = issue.acceptance.checks
    checks = (*issue.acceptance.checks, replace(first, is_judged=False))
    return replace(issue, acceptance=replace(issue.acceptance, checks=checks))


def readings(*, is_inside: bool) -> Change:
    return lambda issue: replace(
        issue, readings=tuple(replace(reading, is_inside=is_inside) for reading in issue.readings)
    )


def coldest(times: float) -> Change:
    """The temperature at which the first break's maturity takes so many times the first target's 6 h."""

    def change(issue: Issue) -> Issue:
        low, high = 0.0, 30.0
        for _ in range(60):  # the colder, the longer
            middle = (low + high) / 2
            low, high = (
                (middle, high) if issue.curve.hours_at(issue.curve.span_h[0], middle) > 6 * times else (low, middle)
            )
        return replace(issue, curve=replace(issue.curve, temperature_c=(high, 35.0)))

    return change


def same(issue: Issue) -> Issue:
    return issue


CASES: list[tuple[str, Change, Change]] = [
    # code, just past the limit, just at it
    ("not-calibrated", of_curve(**RECORDS, is_calibrated=False), of_curve(**RECORDS, is_calibrated=True)),
    ("no-trial-batch", of_curve(**RECORDS), same),
    ("not-judged", lambda issue: replace(issue, acceptance=None), same),
    ("targets-without-companions", only_checks_at(24.0), only_checks_at(6.0, 24.0)),
    ("repeat", of_acceptance(verdict=Verdict.REPEAT), of_acceptance(verdict=Verdict.BREAK_MORE)),
    ("break-more", of_acceptance(verdict=Verdict.BREAK_MORE), of_acceptance(verdict=Verdict.NOT_JUDGED)),
    ("companions-outside", unjudged_beside, same),
    ("no-safe-reading", of_promise(safe_factor=None), of_promise(safe_factor=1.0)),
    ("checks-without-limits", of_promise(later_rms=None), of_promise(later_rms=0.01)),
    ("later-pours", of_promise(later_rms=1.501 * OWN), of_promise(later_rms=1.5 * OWN)),
    ("stranger", likeness(Likeness.STRANGER), likeness(Likeness.AS_EXPECTED)),
    ("likeness-not-told", likeness(Likeness.CANNOT_BE_TOLD), likeness(Likeness.AS_EXPECTED)),
    ("target-outside", readings(is_inside=False), readings(is_inside=True)),
    ("too-cold-for-target", coldest(1.01), coldest(0.99)),
    ("age-is-the-clock", of_curve(maturity=MaturitySetting("age"), temperature_c=None), same),
    ("temperatures-not-limited", of_curve(temperature_c=None), of_curve(temperature_c=(20.0, 35.0))),
    ("conversion-in-use", of_curve(conversion=BY_PAIRS), of_curve(conversion=STATED)),
    ("conversion-stated", of_curve(conversion=STATED), of_curve(conversion=BY_PAIRS)),
    ("companions-converted", of_curve(conversion=BY_PAIRS), same),
]


def codes(issue: Issue, *, n_planned: int = 1) -> list[str]:
    return [caution.code for caution in issue_cautions(issue, n_planned=n_planned, not_calibrated_because="too few")]


def test_nothing_is_said_of_a_sound_curve(issue: Issue) -> None:
    assert codes(issue) == []


@pytest.mark.parametrize(("code", "past", "at"), CASES, ids=[case[0] for case in CASES])
def test_given_past_its_limit_and_not_at_it(issue: Issue, code: str, past: Change, at: Change) -> None:
    assert codes(past(issue)).count(code) == 1
    assert code not in codes(at(issue))


def test_fewer_trial_batches_than_advised(issue: Issue) -> None:
    assert codes(issue, n_planned=2) == ["fewer-trial-batches"]
    assert codes(issue, n_planned=1) == []


def test_every_caution_has_its_case() -> None:
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    built = {
        node.args[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Caution" and node.args
        if isinstance(node.args[0], ast.Constant)
    }
    assert built == {code for code, *_ in CASES} | {"fewer-trial-batches"}
