"""The planner in a notebook: the same computation, the answer as a value that shows itself.

Use it to try plans out and to work on with the table of choices; for files and exit codes use ``test-ages``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .terms.recommendation import Recommendation
from .terms.settings import Plan

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """A recommendation with its table of choices."""

    recommendation: Recommendation

    @property
    def choices(self) -> pd.DataFrame:
        """Every schedule in one row, with the columns of ``choices.csv``, best score first."""
        import pandas as pd

        from planner.report.documents.choices_file import COLUMNS, choice_rows

        return pd.DataFrame(choice_rows(self.recommendation.choices), columns=list(COLUMNS))

    def __repr__(self) -> str:
        from planner.report.screens.pasted_text import render_plain

        return render_plain(self.recommendation)

    def _repr_html_(self) -> str:
        from html import escape

        return f"<pre style='white-space: pre-wrap'>{escape(repr(self))}</pre>"


def recommend(plan: Plan | str | Path, **options: Any) -> Advice:
    """Score every choice of break ages and recommend the calibration schedule.

    Parameters
    ----------
    plan
        A plan, or the path of its file.
    options
        ``n_draws``, ``seed``, ``workers``, ``progress`` as in ``planner.pipeline.recommend``.

    Raises
    ------
    InputError, NoScheduleError
    """
    from .pipeline import recommend as compute
    from .read import load_plan

    inputs = plan if isinstance(plan, Plan) else load_plan(Path(plan))
    return Advice(compute(inputs, **options))
