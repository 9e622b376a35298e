"""A recommendation as a terminal shows it."""

from __future__ import annotations

from rich.console import Console

from planner.report.accounts.brief_account import brief_account
from planner.report.accounts.full_account import recommendation_account
from planner.report.accounts.score_account import score_account
from planner.report.screens.terminal import print_sections
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation


def print_recommendation(recommendation: Recommendation, console: Console, *, is_full: bool = False) -> None:
    """Print the account, on a screen or two unless it is wanted in full."""
    account = recommendation_account if is_full else brief_account
    print_sections(account(recommendation), console)


def print_score(scored: RatedChoice, recommendation: Recommendation, console: Console) -> None:
    """Print one schedule beside the recommendation."""
    print_sections(score_account(scored, recommendation), console)
