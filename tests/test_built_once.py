"""A result is built once: nothing in it is a placeholder that `dataclasses.replace` finishes later."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "planner"
RESULTS = ("terms/results", "issued_curve")  # where the kinds of result are defined
MAKERS = (
    "verdict",
    "issued_curve",
    "laboratory",
    "geometry_choice",
    "report",
    "after_casting",
    "steps",
)  # rooms that make them, beside the corridor

HONEST = {
    "steps/allowed_choices.py of_one_batch": "the budget, an input",
    "geometry_choice/error_of_parts.py error_parts": "breaks, an input",
    "geometry_choice/plan_alone.py _alone": "the plan, an input",
    "geometry_choice/plan_alone.py plan_of": "the plan, an input",
    "geometry_choice/settling.py _comparable": "refuses a whole option because of the others",
    "issued_curve/calibration/issued.py of_batch": "a curve of its own, of one batch",
    "issued_curve/calibration/issued.py as_judged": "a curve is read at its companions before it is accepted",
    "issued_curve/calibration/issued.py within_pairs": "a curve of its own, over fewer maturities",
    "issued_curve/calibration/issued.py scaled": "a curve of its own, under a new number",
    "issued_curve/calibration/usable_breaks.py _timed": "breaks, an input",
    "after_casting/issuing.py _pour_model": "the records' model, with the trial batches that it had not seen",
    "pipeline.py recommend": "a whole recommendation, with what becomes of a trial batch cast after it",
    "pipeline.py score": "a whole recommendation, with what is said of the schedule that was asked about",
    "pipeline.py _for_target": "the plan, an input",
    "report/accounts/after_casting/continuing_account.py _as_broken": "strengths of the geometry that is broken",
    "report/accounts/score_account.py score_account": "the part a schedule plays on one screen",
    "report/documents/pages/testing_room.py as_broken": "units of the testing room",
    "report/figures/week.py week_plots": "file names of several pictures",
    "report/text/clause/clause_paragraph.py numbered": "paragraphs are numbered once all are there",
    "steps/searching.py search_of": "the rule, which is no result",
    "verdict/answers/maturity_constants/constants_study.py constants_study": "the plan, an input",
    "verdict/answers/maturity_constants/constants_study.py _under": "cells, an input",
    "verdict/answers/programmes/enough_specimens.py ladder": "the same verdict under another limit",
    "verdict/answers/family/family_clause.py family_clause": "the clause of the worst mix, widened to the family",
    "verdict/answers/minimum/allowed_programmes.py allowed_programmes": "the same programmes, judged otherwise",
    "verdict/answers/recommendation/redaction.py _redacted": "takes promises out of a whole recommendation",
    "verdict/answers/programmes/spending.py _listed": "the same programme with another number of trial batches",
    "verdict/validation/early_folds.py early_folds": "the same plan with another number of trial batches",
    "verdict/selection/programmes/programme_rule.py choose": "ties that another beats are struck out",
}


def kinds() -> Iterator[frozenset[str]]:
    """Fields of every kind of result."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if not path.relative_to(PACKAGE).as_posix().startswith(RESULTS):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and any("dataclass" in ast.unparse(item) for item in node.decorator_list):
                yield frozenset(
                    item.target.id
                    for item in node.body
                    if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name)
                )


def replaced(node: ast.AST, *, inside: str = "") -> Iterator[tuple[str, list[str | None]]]:
    """Function and changed fields of every `replace`; None stands for fields that are not written out."""
    for child in ast.iter_child_nodes(node):
        name = child.name if isinstance(child, ast.FunctionDef) else inside
        if isinstance(child, ast.Call) and ast.unparse(child.func) in ("replace", "dataclasses.replace"):
            yield name, [item.arg for item in child.keywords]
        yield from replaced(child, inside=name)


def finishing(tree: ast.AST, known: list[frozenset[str]]) -> Iterator[str]:
    """Functions that change what may be a result."""
    for name, changed in replaced(tree):
        if any(all(field is None or field in fields for field in changed) for fields in known):
            yield name


def found() -> set[str]:
    known = list(kinds())
    return {
        f"{path.relative_to(PACKAGE).as_posix()} {name}"
        for path in sorted(PACKAGE.rglob("*.py"))
        if path.parent == PACKAGE or path.relative_to(PACKAGE).parts[0] in MAKERS
        for name in finishing(ast.parse(path.read_text(encoding="utf-8")), known)
    }


def test_no_result_is_finished_by_replacing_a_placeholder() -> None:
    assert found() == set(HONEST)


def test_finished_results_are_seen() -> None:
    tree = ast.parse(
        "def told(found):\n    return replace(found, sentence='Now it is said.')\n"
        "def planned(plan):\n    return replace(plan, settings=None)\n"
        "def every(found, changed):\n    return dataclasses.replace(found, **changed)\n"
    )
    assert list(finishing(tree, [frozenset({"sentence", "rms"})])) == ["told", "every"]
