"""No output of any scenario holds a forbidden word, or a sentence that is untrue of its plan.

What may stand nowhere is looked for in every output; what is untrue of some plans alone in theirs, with the reason from
the plan or its answer beside it. Every plan is one test, so that it is worked out once.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from planner.terms.labels import is_useful_bound
from tests.report.scenario_outputs import PLANS, ScenarioOutputs, outputs_of
from tests.report.text.test_words_in_source import FORBIDDEN

SI_UNITS = r"MPa|°C|\bmm\b|\bkN\b|kg/m3|\d C\b|, C\b|\bC h\b|\d L\b"
US_UNITS = r"\bpsi\b|\bksi\b|°F|\d F\b|\bF h\b|\blbf\b|\bft3\b"
C39 = r"\bASTM C39\b(?! are no such conversion)"
SAFE = r"must read [\d.]+ times|afe-reading factor [\d.]+:|strength read divided by [\d.]+|at least [\d.]+ times that"
RANGE = r"(-?[\d.]+) to (-?[\d.]+) [CF]\b"
BARE = r"(psi|lbf|°?F) \([\d,.]+ to [\d,.]+\)"  # a range whose figures were not turned with the one before it
RECORDED = re.compile(r"\(which reach from [\d.]+ to [\d.]+ [CF]\)")
ONE_RANGE = ("clause.html", "clause.docx", "curve.html", "curve, whole")  # each says where it may be used
BOTH_ERRORS = (
    *("recommend, whole", "recommend, first screen", "report.html", "workbook.xlsx"),
    *("score, whole", "price, whole", "price, first screen", "minimum, whole", "estimate.html"),
)


def untrue_of(outputs: ScenarioOutputs) -> Iterator[tuple[str, str]]:
    """What is untrue of one plan, whatever output it stands in: a pattern, and why."""
    advice, settings = outputs.advice, outputs.plan.settings
    grade, later = advice.evidence.grade, advice.honest.next_batch
    laboratory = settings.laboratory
    if "cylinder" not in f"{advice.valid_for.geometry} {settings.target.geometry}":
        if laboratory is None:  # what is taken for granted is said once, with the key that changes it
            yield rf"{C39}(?! allows)(?=.{{0,30}}(deviations|tolerances))", "the plan names no such standard"
        elif laboratory.age_tolerances != "ASTM C39":
            yield C39, "the plan names another standard and has no cylinders"
    if advice.evidence.checked_against == "site-cured":
        yield r"nothing is shown (of|about)|truth (\S+ ){0,4}standard-cured", "companions were broken at every target"
    if advice.evidence.checked_against == "drawn":
        yield r"records of concrete at", "no concrete of these temperatures was recorded"
    if grade != "measured":
        yield SAFE, "drawn batches and published growth give no safe reading"
    if grade == "published":
        yield r"\b(is|:) good enough\b|\d % within", "published growth promises no error"
    if not outputs.plan.records.age_zero:
        yield r"count from the moment (?!that the engineer names)", "the records do not say what ages count from"
    if later is None or later.rms_upper_95 is None or not is_useful_bound(later.rms_upper_95):
        for word in ("later pour", "Later pour"):
            yield rf"{word}:? read [\d.]+ % off \(RMS; choosing held out [\d.]+ %, at most", "no bound is useful"


def faults(outputs: ScenarioOutputs) -> Iterator[str]:
    """Every place where something forbidden or untrue stands."""
    told = tuple(untrue_of(outputs))
    geometries = {item.geometry for item in outputs.plan.records.breaks}
    for units, name, text in outputs:
        if name == "workbook.xlsx":  # what is read back keeps its name
            text = re.sub("|".join(map(re.escape, geometries)) or "$^", "", text)
        other = (US_UNITS, "the plan asks for SI") if units == "SI" else (SI_UNITS, "the plan asks for US units")
        for pattern, why in (*FORBIDDEN.items(), *told, other, (BARE, "a range in other units")):
            found = re.search(pattern, text)
            if found is not None:
                yield f"{units}, {name}: ...{text[max(found.start() - 60, 0) : found.end() + 60]}...: {why}"
        if "equal gain" in text and not re.search(r"equal gain\W{1,4}ages spaced for equal strength steps", text):
            yield f"{units}, {name}: equal gain without what it is"
        if name in ONE_RANGE:
            ranges = {(float(low), float(high)) for low, high in re.findall(RANGE, RECORDED.sub("", text))}
            if len(ranges) > 1 or any(low >= high for low, high in ranges):
                yield f"{units}, {name}: ranges of temperature {sorted(ranges)}"
        if name in BOTH_ERRORS and outputs.advice.honest.next_batch is not None:
            missing = [
                word for word in ("own batch", "later pour") if word not in text.lower().replace("own-b", "own b")
            ]
            if missing:
                yield f"{units}, {name}: nowhere {missing}"


@pytest.mark.parametrize("name", PLANS)
def test_no_output_of_a_scenario_is_forbidden_or_untrue(name: str) -> None:
    outputs = outputs_of(name)
    found = list(faults(outputs))
    assert not found, "\n".join(found)
