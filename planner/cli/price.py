"""``test-ages price``: what knowing the strength costs, and what the next specimen buys."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from .answering import answer_question
from .options import computing_options, plan_argument


@click.command()
@plan_argument
@computing_options
def price(plan: Path, **options: Any) -> None:
    """Say what the calibration costs, what more specimens would buy, and how your schedule compares."""
    from planner.report.accounts.price_account import price_account
    from planner.report.documents.price_document import price_document

    from ..pipeline import price as compute

    answer_question(
        plan, compute, file_name="price.json", document_of=price_document, account_of=price_account, **options
    )
