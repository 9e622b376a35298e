"""The main question: at which ages to break, how many specimens, which curve; on request dated."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.questions.loading import plan_of
from planner.terms.plan.shown_as import ShownAs, shown_as

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike

    from planner.laboratory.clock.break_slots import BreakTimes
    from planner.questions.recommended_curve import RecommendedCurve
    from planner.report.text.blocks import Section
    from planner.terms.plan.settings import Plan, Settings
    from planner.terms.records import GivenRecords
    from planner.terms.results.recommended.recommendation import Recommendation

Progress = Callable[[int, int, str], None]


def unseen(_done: int, _total: int, _what: str) -> None:
    """Progress that nobody looks at."""


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """A recommendation with its table of choices, and the dates of its breaks where a casting time was given."""

    recommendation: Recommendation
    settings: Settings  # the plan's, with prices and minutes of the recommended geometry
    castings: tuple[BreakTimes, ...] = ()  # the recommended schedule on the clock, one for each casting
    shown: ShownAs = field(default_factory=ShownAs)  # units of account and pages
    plan: Plan | None = None  # whose earlier batches a curve with a prior has learnt from

    @property
    def choices(self) -> pd.DataFrame:
        """Every schedule in one row, with the columns of ``choices.csv``, best score first; figures are numbers."""
        from planner.report.documents.choices_file import choice_frame

        return choice_frame(self.recommendation.choices)

    def curve(
        self,
        age_h: ArrayLike,
        strength_mpa: ArrayLike,
        *,
        elapsed_h: ArrayLike | None = None,
        temperature_c: ArrayLike | None = None,
    ) -> RecommendedCurve:
        """Fit the recommended curve, with its weighting and maturity constants, to the breaks of one batch.

        ``curve.predict(maturity_h)`` and ``curve.strength(elapsed_h, temperature_c)`` read it.

        Parameters
        ----------
        age_h, strength_mpa
            Age [h] and strength [MPa] of every specimen, above 0, ``(n_breaks,)``.
        elapsed_h, temperature_c
            Temperatures of the specimens: hours since casting and degrees C, ``(n_readings,)``. Left out: they
            were cured at the plan's standard temperature.

        Raises
        ------
        ValueError
            Where lengths differ, values are not above 0, temperatures are missing, there are too few ages, or a curve
            with a prior has nothing learnt or is to be fitted outside what it has learnt from.
        """
        from planner.questions.recommended_curve import recommended_curve
        from planner.resampling.priors.from_records import learnt_from_records

        choice = self.recommendation.recommended
        return recommended_curve(
            choice,
            self.settings.prior,
            age_h,
            strength_mpa,
            elapsed_h=elapsed_h,
            temperature_c=temperature_c,
            learnt=None if self.plan is None else learnt_from_records(self.plan, choice.maturity),
        )

    def dated(self, cast: Sequence[str]) -> Advice:
        """Put the recommended schedule on the clock.

        Parameters
        ----------
        cast
            Times like ``"2027-03-01 22:00"`` or windows like ``"2027-03-01 18:00/2027-03-02 04:00"``, one for
            each trial batch; in a window the cheapest time is taken.

        Raises
        ------
        InputError
            Where a text is no time, does not exist in the laboratory's zone, or an age has no tolerance.
        """
        from planner.laboratory.casting.casting_times import casting_windows, castings_at

        times = castings_at(casting_windows(cast), self.recommendation.recommended.schedule, self.settings)
        return replace(self, castings=times)

    def account(self, *, is_full: bool = True) -> tuple[Section, ...]:
        """The account, section by section; without `is_full` what fits on a screen or two."""
        from planner.questions.answer import told_in
        from planner.report.accounts.brief_account import brief_account
        from planner.report.accounts.clock.clock_account import clock_account
        from planner.report.accounts.full_account import recommendation_account

        advice = self.recommendation

        def sections() -> tuple[Section, ...]:
            on_the_clock = clock_account(self.castings, advice)
            if not is_full:
                return brief_account(advice, on_the_clock)
            first, *rest = recommendation_account(advice)
            return (first, *on_the_clock, *rest)

        return told_in(self.shown, sections)

    @property
    def document(self) -> dict[str, Any]:
        """The whole answer as plain values, as ``recommendation.json`` holds it."""
        from planner.report.documents.values.recommendation_document import recommendation_document

        return recommendation_document(self.recommendation)

    def json(self) -> str:
        """The document as text."""
        from planner.questions.answer import document_text

        return document_text(self.document)

    def write(
        self, folder: str | Path, *, has_figures: bool = False, has_all_choices: bool = False
    ) -> tuple[Path, ...]:
        """Write every result file into a folder, all of them or none.

        Parameters
        ----------
        has_figures
            Also the pictures as files of their own.
        has_all_choices
            Every schedule in ``choices.csv``, not only the best.

        Raises
        ------
        InputError
            Where they cannot be written.
        """
        from planner.report.documents.folder import write_files
        from planner.report.documents.result_files import result_files
        from planner.report.documents.shown_page import file_shown
        from planner.report.text.shown_units import shown_in

        folder = Path(folder)
        with shown_in(self.shown):
            files = result_files(
                self.recommendation,
                self.settings,
                castings=self.castings,
                has_figures=has_figures,
                has_all_choices=has_all_choices,
                folder=folder,
            )
            made = {name: file_shown(name, content) for name, content in files.items()}
        return write_files(folder, made)

    def __repr__(self) -> str:
        from planner.report.text.plain_blocks import plain_sections

        return plain_sections(self.account())

    def _repr_html_(self) -> str:
        from planner.report.text.html_blocks import html_sections

        return html_sections(self.account(is_full=False))


def recommend(
    plan: Plan | str | Path,
    *,
    cast: str | Sequence[str] = (),
    trial: str | Path | None = None,
    temperatures: str | Path | None = None,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
) -> Advice:
    """Score every choice of break ages and recommend the calibration schedule.

    Parameters
    ----------
    plan
        A plan, or the path of its file.
    cast
        Casting times or windows that date the breaks, see :meth:`Advice.dated`; none dates nothing.
    trial
        First breaks of the trial batch, a table or the workbook half filled: what remains is scored again. Needs the
        plan as a file.
    temperatures
        Of the trial batch; not needed with a maturity column or a filled sheet of the workbook.
    n_draws, seed
        Of the resampled figures. The recommendation itself is free of draws: no seed changes it.
    workers
        Threads; all cores where None. The result is the same to the last bit for any number.
    progress
        Called with (done, total, what) as the search goes on.

    Raises
    ------
    InputError
        Where the plan, its tables or a casting time cannot be used, or the records cannot answer the question.
    NoScheduleError
        Where no schedule satisfies the limits.
    """
    from planner.laboratory.casting.casting_times import cast_at

    times = [cast] if isinstance(cast, str) else list(cast)
    inputs = cast_at(plan_of(plan), times)
    given = None if trial is None else _begun(plan, trial, temperatures)
    advice = undated(inputs, trial=given, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    return advice.dated(times) if times else advice


def _begun(plan: Plan | str | Path, trial: str | Path, temperatures: str | Path | None) -> GivenRecords:
    from planner.read import load_later

    if not isinstance(plan, str | Path):
        raise TypeError("A trial batch is read as the plan's file says: give the path of the plan.")
    return load_later(plan, trial, temperatures)


def undated(
    plan: Plan,
    *,
    trial: GivenRecords | None = None,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress = unseen,
) -> Advice:
    """As :func:`recommend`, without dates: what is known before anything can go wrong with the clock."""
    from planner.geometry_choice import settings_of
    from planner.pipeline import recommend as compute
    from planner.questions.first_compile import compile_first
    from planner.report.text.refusal_words import refused_in

    given = () if trial is None else (trial.records,)
    shown = shown_as(plan.settings, plan.records, *given)
    compile_first(progress)
    with refused_in(shown):
        result = compute(plan, n_draws=n_draws, seed=seed, workers=workers, progress=progress, trial=trial)
    return Advice(
        result,
        settings_of(plan.settings, result.geometries),
        shown=shown,
        plan=plan if result.geometries is None else None,  # of several geometries what is learnt rests on one
    )
