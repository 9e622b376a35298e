"""What is refused, in the units that the plan asks its outputs for. What stands in quotation marks was typed so."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from planner.report.text.shown_units import in_words, shown_in
from planner.terms.plan.shown_as import ShownAs
from planner.terms.problems import InputError, NoScheduleError, Problem

US = ShownAs(units="US")


def told_problems(error: InputError) -> tuple[str, ...]:
    """Every problem of files that were read, a line each; keys of a plan stay in the units that they have."""
    if error.units == "SI":
        return tuple(map(str, error.problems))
    with shown_in(US):
        return tuple(
            str(item if _is_of_plan(item) else replace(item, text=refusal_in_words(item.text)))
            for item in error.problems
        )


@contextmanager
def refused_in(shown: ShownAs) -> Iterator[None]:
    """What is refused inside, of a plan that could be read, is told in these units.

    Raises
    ------
    InputError, NoScheduleError
        Those that were raised, their texts turned.
    """
    try:
        yield
    except InputError as error:
        with shown_in(shown):
            texts = [replace(item, text=refusal_in_words(item.text)) for item in error.problems]
        raise InputError(texts) from error
    except NoScheduleError as error:
        with shown_in(shown):
            text = refusal_in_words(str(error))
        raise NoScheduleError(text) from error


def refusal_in_words(text: str) -> str:
    """A refusal with its quantities in the units asked for."""
    parts = text.split('"')
    parts[::2] = map(in_words, parts[::2])
    return '"'.join(parts)


def _is_of_plan(problem: Problem) -> bool:
    return problem.row is None and problem.file.endswith(".toml")
