"""``test-ages recommend``: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import computing_options, plan_argument

if TYPE_CHECKING:
    from ..terms.recommendation import Recommendation


@click.command()
@plan_argument
@computing_options
def recommend(
    plan: Path, out: Path | None, seed: int, draws: int, workers: int | None, is_json: bool
) -> None:
    """Score every choice of break ages and recommend the calibration schedule."""
    from ..pipeline import recommend as compute
    from ..read import load_plan
    from ..report.write import check_folder, write_files
    from .screen import say_written, shown_progress

    if out is not None:
        check_folder(out)
    inputs = load_plan(plan)
    with shown_progress() as progress:
        result = compute(inputs, n_draws=draws, seed=seed, workers=workers, progress=progress)
    try:
        if out is not None:
            say_written(write_files(out, recommendation_files(result)))
    finally:  # a full disk must not cost the reader the answer
        _print(result, is_json=is_json)


def _print(result: Recommendation, *, is_json: bool) -> None:
    if is_json:
        from ..report.document import recommendation_document, write_json

        click.echo(write_json(recommendation_document(result)), nl=False)
    else:
        from ..report.terminal import print_recommendation
        from .screen import result_console

        print_recommendation(result, result_console())


def recommendation_files(result: Recommendation) -> dict[str, bytes]:
    """Every file that `--out` gets, name -> content."""
    from ..report.choices_file import write_choices
    from ..report.document import recommendation_document, write_json
    from ..report.page import render_page

    return {
        "recommendation.json": write_json(recommendation_document(result)).encode("utf-8"),
        "choices.csv": write_choices(result.choices).encode("utf-8"),
        "report.html": render_page(result).encode("utf-8"),
    }
