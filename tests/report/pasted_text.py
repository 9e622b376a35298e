"""The full account as plain text, to be held against page and screen."""

from __future__ import annotations

from planner.report.accounts.full_account import recommendation_account
from planner.report.text.plain_blocks import PLAIN_WIDTH, plain_sections
from planner.terms.results.recommended.recommendation import Recommendation


def render_plain(recommendation: Recommendation, *, width: int = PLAIN_WIDTH, is_ascii: bool = False) -> str:
    """Write the account as plain lines no wider than `width`."""
    return plain_sections(recommendation_account(recommendation), width=width, is_ascii=is_ascii)
