"""``test-ages check``: read the files, list every problem, tell what the records hold. Computes nothing."""

from __future__ import annotations

from pathlib import Path

import click

from .options import plan_argument


@click.command()
@plan_argument
def check(plan: Path) -> None:
    """Read the plan and its tables, list every problem and tell what the records hold."""
    from ..evidence.story import tell_story
    from ..read import load_plan
    from ..report.story_text import story_account
    from ..report.terminal import print_sections
    from .screen import result_console

    inputs = load_plan(plan)
    story = tell_story(inputs.records, target_ages_h=inputs.settings.target.ages_h)
    print_sections(story_account(story, title=inputs.settings.title), result_console())
