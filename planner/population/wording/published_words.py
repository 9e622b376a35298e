"""What is said of batches that are drawn about published growth."""

from __future__ import annotations

from planner.population.growth_families import DEFAULT_SET_H
from planner.population.markov_chains import SCALE_BETWEEN_SD
from planner.population.published_growth import NO_PROMISE_BELOW_H, Law
from planner.terms.labels import age_label
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution


def published_first_line(law: str) -> str:
    """What an answer from published growth opens with."""
    return f"This rests on published growth alone ({law}), on no break of this mix."


def published_cautions(law: Law, settings: Settings) -> tuple[Caution, ...]:
    """What a reader must know where no break of the mix stands behind an answer."""
    said = [Caution("published-growth-alone", f"{published_first_line(law.name)} Break a batch first.")]
    early = [age_label(age) for age in settings.target.ages_h if age < NO_PROMISE_BELOW_H]
    if early:
        said.append(
            Caution(
                "published-growth-promises-nothing",
                f"Below {age_label(NO_PROMISE_BELOW_H)} ({', '.join(early)}) published growth promises no error. It "
                "knows nothing of setting time and only puts schedules in order; break a first batch at the "
                "target ages.",
            )
        )
    site, valid = settings.site_temperature_c, law.temperature_c
    if site is not None and valid is not None and (site[0] < valid[0] or site[1] > valid[1]):
        said.append(
            Caution(
                "outside-published-temperatures",
                f"The site range {site[0]:g} to {site[1]:g} C leaves the {valid[0]:g} to {valid[1]:g} C that "
                f'"{law.name}" is used for ({law.temperature_source}). Calibrate at the ends of the range.',
            )
        )
    return tuple(said)


def published_notes(law: Law, settings: Settings, *, strength_sd: float) -> tuple[str, ...]:
    """What the draws rest on, with defaults and their sources.

    Parameters
    ----------
    strength_sd
        Standard deviation of the 28 d strength about the expected one, relative.
    """
    between = settings.prior.between_batch_cv
    spread = (
        f"{100 * between:g} % (stated)" if between else f"{100 * SCALE_BETWEEN_SD:g} % (common practice, no source)"
    )
    stated = settings.final_set_h or law.set_h
    setting = f"{stated:g} h (stated)" if stated else f"{DEFAULT_SET_H:g} h (common practice, no source)"
    return (
        f"Growth: {law.source}. Temperatures: {law.temperature_source}.",
        f"28 d strength {settings.prior.strength_28d_mpa:g} MPa expected, the mix at 28 d within "
        f"{100 * strength_sd:g} % of it (one standard deviation; common practice, no source); "
        f"spread between batches {spread}.",
        f"Setting near {setting}; the pace of growth differs by half the step between neighbouring EN classes, so "
        "before 28 d the mix spreads wider than that, the more so the younger.",
    )
