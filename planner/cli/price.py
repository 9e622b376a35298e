"""``test-ages price``: what knowing the strength costs, and what the next specimen buys."""

from __future__ import annotations

from .answering import answer_question
from .options import Computing, PlanFile


def price(plan: PlanFile, computing: Computing) -> None:
    """Say what the calibration costs, what more specimens would buy, and how your schedule compares."""
    from planner.report.accounts.price_account import price_account
    from planner.report.documents.price_document import price_document

    from ..pipeline import price as compute

    answer_question(
        plan, compute, computing, file_name="price.json", document_of=price_document, account_of=price_account
    )
