"""What readings are judged on: later pours where the records can tell, else the batch's own concrete."""

from __future__ import annotations

from collections import defaultdict

from planner.evidence import Cells
from planner.terms.plan.settings import JudgedOn, Target
from planner.verdict.wording.evidence_words import own_batch_only_words

FEWEST_FOR_LATER = 3  # batches of one mix: with two, every batch is read with one curve only


def judged_basis(cells: Cells, target: Target) -> tuple[JudgedOn, str]:
    """What is judged on, and why not what was asked for or would be the default; "" where it is."""
    wanted = target.judged_on or "later pour"
    if wanted == "own batch":
        return "own batch", ""
    batches: dict[str, set[str]] = defaultdict(set)
    for batch, mix in zip(cells.views.batch, cells.views.mix, strict=True):
        batches[mix].add(batch)
    most = max(len(names) for names in batches.values())
    if most >= FEWEST_FOR_LATER:
        return "later pour", ""
    return "own batch", own_batch_only_words(n_batches_of_a_mix=most, fewest=FEWEST_FOR_LATER)
