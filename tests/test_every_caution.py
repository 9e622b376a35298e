"""Every caution of the program has a test of when it is given, when not, and at its limit.

Most stand in tables of cases. What needs a file, a search or a whole answer has tests of its own, named here.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TABLES = (  # files whose CASES or OF_... lists begin every entry with the code
    *(f"verdict/wording/cautions/test_of_{name}.py" for name in ("answers", "records", "temperatures", "specimens")),
    "issued_curve/wording/test_issue_cautions.py",
    "issued_curve/wording/test_trial_cautions.py",
)
OWN = {
    "evidence/test_cells.py": "age-not-in-records age-only-checks batch-not-checked companions-alone "
    "constants-not-told-apart",
    "evidence/test_reached_strength.py": "strength-not-reached",
    "oracle/test_mixes_left_out.py": "truths-too-weak",
    "population/test_draw_cautions.py": "breaks-without-temperature drawn-too-weak-to-check "
    "outside-published-temperatures",
    "population/test_drawing.py": "drawn-too-weak little-to-draw-from one-family-truth untested-ages",
    "population/test_published.py": "drawn-not-set published-growth-alone published-growth-promises-nothing",
    "population/test_site.py": "site-beyond-constants site-heat-treated site-not-scored site-range-looks-like-weather "
    "site-too-hot",
    "verdict/validation/test_beyond_site_records.py": "site-range-drawn",
    "verdict/compared/test_not_compared.py": "not-compared",
    "faults/test_any_plan_values.py": "beyond-limits",
    "after_casting/test_read_pour.py": "early-break-on-site no-independent-check no-temperature-of-pour "
    "pour-among-records pour-outside-temperatures pour-stranger stranger-not-told target-not-read",
    "after_casting/test_doubtful_checks.py": "cast-at-once cast-far-apart check-apart checks-off-by-a-factor "
    "checks-too-strong companions-equal required-unlike voids-are-weak",
    "after_casting/test_doubtful_pours.py": "early-age-not-planned geometry-assumed given-among-records "
    "maturity-is-age maturity-outside-temperatures maturity-uneven pour-is-trial pour-too-strong "
    "required-not-judged several-castings",
    "after_casting/test_converted_curve.py": "breaks-of-both-geometries geometry-without-breaks",
    "issued_curve/wording/test_issue_cautions.py": "fewer-trial-batches",
    "read/test_mortar_file.py": "mortar-against-companions mortar-cured-hot mortar-tells-no-q voided-cubes",
    "read/slips/test_caution_codes.py": "age-of-one-batch ages-of-one-batch ages-of-years batch-apart "
    "batch-off-by-a-factor columns-not-read curing-of-one-batch equal-at-an-age geometry-differs "
    "geometry-unreadable hidden-rows notes-not-read one-strength other-sheets outlying-break plan-value "
    "record-carried-on record-continued record-long rows-repeated strengths-strong strengths-weak "
    "temperature-unused twice-the-breaks two-readings-at-once unlike-other-batches",
    "read/breaks/test_breaks.py": "curing-assumed geometry-selected mix-assumed voided-breaks",
    "read/breaks/test_rough_breaks.py": "ages-gathered outside-age-window property-selected short-cylinder wide-sheet",
    "read/temperatures/test_loggers.py": "age-zero-not-stated first-reading-is-zero temperature-spike "
    "temperature-stuck time-zone-assumed",
    "read/temperatures/test_later_doubts.py": "temperature-still",
    "read/temperatures/test_temperatures.py": "readings-before-zero sensors-apart temperature-gap temperature-jump "
    "temperature-late-start temperatures-copied",
}


def trees(folder: str) -> Iterator[ast.Module]:
    for path in sorted((ROOT / folder).rglob("*.py")):
        yield ast.parse(path.read_text(encoding="utf-8"))


def built() -> set[str]:
    """Codes of every caution that the program can give."""
    found = set()
    for tree in trees("planner"):
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and ast.unparse(node.func).rpartition(".")[2] in ("Caution", "caution"):
                code = node.args[0] if node.args else None
                if isinstance(code, ast.Constant) and isinstance(code.value, str):
                    found.add(code.value)
    return found


def told_by_tables() -> set[str]:
    found = set()
    for name in TABLES:
        for node in ast.walk(ast.parse((ROOT / "tests" / name).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Tuple) and len(node.elts) == 3 and isinstance(node.elts[0], ast.Constant):
                found.add(str(node.elts[0].value))
    return found


def test_every_caution_has_its_case() -> None:
    in_tables = told_by_tables()
    assert len(in_tables) > 70
    own = {code for codes in OWN.values() for code in codes.split()}
    codes = built()
    assert len(codes) > 120
    assert codes - in_tables - own == set(), "no case"
    assert own - codes == set(), "no such caution any more"


@pytest.mark.parametrize("name", OWN)
def test_what_has_tests_of_its_own_is_named_there(name: str) -> None:
    strings = {
        node.value
        for node in ast.walk(ast.parse((ROOT / "tests" / name).read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert set(OWN[name].split()) <= strings
