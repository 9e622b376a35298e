"""``test-ages minimum``: the least that has to be broken, and a draft clause that asks for it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from .answering import answer_question
from .options import computing_options, plan_argument


@click.command()
@plan_argument
@computing_options
def minimum(plan: Path, **options: Any) -> None:
    """Say which break ages must be there for every target, how many, and draft a clause."""
    from planner.report.accounts.minimum_account import minimum_account
    from planner.report.documents.minimum_document import minimum_document

    from ..pipeline import minimum as compute

    answer_question(
        plan, compute, file_name="minimum.json", document_of=minimum_document, account_of=minimum_account, **options
    )
