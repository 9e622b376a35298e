"""The account of a recommendation in sections, most important first.

Terminal, plain text and markdown write it out.
"""

from __future__ import annotations

from planner.report.accounts.after_casting.continuing_account import if_then_section, trial_section
from planner.report.accounts.clock.slip_account import slip_section
from planner.report.accounts.geometries.conversion_account import recommended_conversion
from planner.report.accounts.geometries.geometry_account import geometry_section, specimen_facts
from planner.report.accounts.parts.comparison import comparison_table, shown_choices
from planner.report.accounts.parts.constants_account import constants_section
from planner.report.accounts.parts.drawn_account import headed, temperature_section
from planner.report.accounts.parts.early_break_account import early_break_section
from planner.report.accounts.parts.mortar_account import mortar_section
from planner.report.accounts.parts.programme_account import estimate_section, programme_section
from planner.report.accounts.parts.sample_size_account import enough_section
from planner.report.accounts.parts.validation_tables import (
    age_table,
    fold_table,
    honest_table,
    limit_table,
    mix_table,
    target_table,
)
from planner.report.accounts.parts.waiting_account import waiting_section
from planner.report.text import words
from planner.report.text.blocks import AgeLine, AgePicture, Bullets, Facts, Paragraph, Section, SectionId
from planner.terms.labels import age_label, digits_label, schedule_label
from planner.terms.results.programme_count import ANY_HOUR, Estimate
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation

SHOWN_TIED = 4
TARGET_MARK = "▼"
NEXT_BATCH_UNKNOWN = "On a later pour: unknown."


def recommendation_account(recommendation: Recommendation) -> tuple[Section, ...]:
    """Everything a reader needs to judge the recommendation, on one or two screens."""
    sections = (
        headed(_answer(recommendation), recommendation),
        trial_section(recommendation),
        _compared(recommendation),
        _not_separated(recommendation),
        later_section(recommendation),
        temperature_section(recommendation),
        _limit(recommendation),
        _ages(recommendation),
        slip_section(recommendation),
        enough_section(recommendation),
        programme_section(recommendation),
        estimate_section(recommendation),
        early_break_section(recommendation),
        waiting_section(recommendation),
        geometry_section(recommendation),
        recommended_conversion(recommendation),
        constants_section(recommendation),
        mortar_section(recommendation.mortar, recommendation.constants),
        if_then_section(recommendation),
        Section("Why", (Bullets(tuple(words.clean(reason) for reason in recommendation.reasons)),)),
        basis_section(recommendation),
        cautions_section(recommendation),
    )
    return tuple(section for section in sections if has_content(section))


def answer_facts(recommendation: Recommendation) -> tuple[tuple[str, str], ...]:
    """What to cast, break and use, term by term."""
    advice, choice = recommendation, recommendation.recommended
    visits = "1 visit" if choice.n_visits == 1 else f"{choice.n_visits} visits"
    last = f"{age_label(choice.schedule.last_age_h)}, {visits}"
    facts = [
        ("Predict", target_words(advice)),
        ("Cast", cast_words(advice)),
        ("Break", schedule_label(choice.schedule)),
        ("Last break", last if advice.estimate is None else f"{last}, {hour_words(advice.estimate)}"),
        ("Curve", words.curve_words(choice)),
        ("Maturity", words.maturity_words(choice.maturity)),
    ]
    if choice.cost is not None:
        facts.append(("Cost", cost_words(advice)))
    facts += specimen_facts(advice)
    if choice.note:
        facts.append(("Note", words.clean(choice.note)))
    return tuple(facts)


def cast_words(advice: Recommendation) -> str:
    """Specimens to cast for one trial batch, those that are not broken included."""
    text = f"{advice.recommended.schedule.n_specimens} specimens for breaking (budget {advice.budget_specimens})"
    count = advice.programme
    if count is None:
        return text
    n_batches = count.n_trial_batches
    if count.n_spares:
        text += f", {count.n_spares // n_batches} spare"
    if count.n_instrumented:
        n_sensors = count.n_instrumented // n_batches
        text += f", {n_sensors} with {'a temperature sensor' if n_sensors == 1 else 'temperature sensors'}"
    if count.n_acceptance:
        text += f", {count.n_acceptance // n_batches} companions on site"
    if not count.n_spares and not count.n_instrumented and not count.n_acceptance and n_batches == 1:
        return text
    n_cast = (count.n_of_curve + count.n_acceptance) // n_batches
    return f"{text}: {n_cast} in all" + (f", for each of {n_batches} trial batches" if n_batches > 1 else "")


def cost_words(advice: Recommendation) -> str:
    """The whole calibration at the casting hour that asks least of the laboratory."""
    cost = words.money(advice.recommended.cost, advice.currency)
    if advice.estimate is None or advice.estimate.casting == ANY_HOUR:
        return cost
    return f"{cost} if cast {advice.estimate.casting}"


def any_hour_words(estimate: Estimate) -> str:
    """Whether the casting hour makes a difference to the visits, where no laboratory hours are given."""
    most = estimate.n_visits_at_most
    if most is None or most == estimate.n_visits:
        return "whatever the casting hour"
    return f"up to {most} by the casting hour, one for each calendar day with a break"


def hour_words(estimate: Estimate) -> str:
    """The casting hour that asks least of the laboratory."""
    if estimate.casting == ANY_HOUR:
        return any_hour_words(estimate)
    outside = f"{estimate.n_outside} outside" if estimate.n_outside else "none outside"
    return f"{outside} laboratory hours if cast {estimate.casting}"


def ages_picture(recommendation: Recommendation) -> AgePicture:
    """Recommended, best and customary ages above the candidate ages, the digit being the specimens."""
    return picture_of(recommendation, pictured(recommendation))


def _answer(advice: Recommendation) -> Section:
    heading = words.clean(advice.title, limit=120) or "Recommended schedule"
    return Section(
        heading,
        (
            Facts(answer_facts(advice)),
            Paragraph(words.clean(advice.honest.sentence), is_strong=True),
        ),
        SectionId.ANSWER,
    )


def _compared(advice: Recommendation) -> Section:
    return Section(
        f"Compared with other schedules (errors on {words.judges_words(advice)}, not corrected for the search)",
        (comparison_table(advice, choices=shown_choices(advice), n_marked=1), ages_picture(advice)),
    )


def _not_separated(advice: Recommendation) -> Section:
    if advice.n_tied <= 1:
        return Section("What the records cannot separate", ())
    shown = [f"{schedule_label(choice.schedule)}; {words.short_model(choice)}" for choice in advice.tied[:SHOWN_TIED]]
    is_enough = advice.spending is not None and advice.spending.is_enough
    taken = "the cheapest that is good enough is recommended" if is_enough else "the cheapest is recommended"
    text = f"{advice.n_tied} choices cannot be told apart by these records; {taken}. Cheapest first:"
    return Section("What the records cannot separate", (Paragraph(text), Bullets(tuple(shown))))


def later_section(advice: Recommendation, heading: str = "What the own batch and a later pour would meet") -> Section:
    honest = advice.honest
    blocks: list[Paragraph] = []
    if honest.next_batch is None:
        blocks.append(Paragraph(unknown_words(advice)))
    blocks.append(Paragraph(safe_reading_words(advice)))
    per_target = (target_table(advice),) if len(honest.per_target) > 1 else ()
    folds = (fold_table(advice),) if honest.folds else ()
    mixes = (mix_table(advice),) if honest.mixes is not None and honest.mixes.worst else ()
    return Section(heading, (honest_table(advice), *per_target, *mixes, *blocks, *folds))


def unknown_words(advice: Recommendation) -> str:
    """Why nothing is known of a later pour."""
    why = words.clean(advice.honest.next_batch_unknown_because).rstrip(".")
    return f"{NEXT_BATCH_UNKNOWN} {why[:1].upper()}{why[1:]}."


def safe_reading_words(advice: Recommendation) -> str:
    """How much more than the strength that is needed the curve must read."""
    honest = advice.honest
    if honest.safe_reading_factor is None or honest.safe_reading_basis is None:
        return f"Safe reading: no factor can be given ({words.clean(honest.safe_reading_unknown_because)})."
    return (
        f"Safe-reading factor {words.factor(honest.safe_reading_factor)}: the curve must read that many times the "
        f"strength that is needed; {words.weaker_words(advice.assurance)} (estimated from "
        f"{words.basis_words(honest.safe_reading_basis)} errors)."
    )


def _limit(advice: Recommendation) -> Section:
    if advice.limit is None:
        return Section("Limit, scatter, error", ())
    return Section("Limit, scatter, error", (limit_table(advice),))


def _ages(advice: Recommendation) -> Section:
    return Section("What each age does", (age_table(advice),) if advice.ages else ())


def basis_section(advice: Recommendation) -> Section:
    """What the answer rests on and where it holds."""
    evidence, search, valid = advice.evidence, advice.search, advice.valid_for
    about = [words.clean(item) for item in (valid.mix, valid.geometry, valid.property) if item]
    if valid.concrete_temperature_c is not None:
        low, high = valid.concrete_temperature_c
        was_recorded = evidence.checked_against != "drawn"
        about.append(
            f"{'records of concrete' if was_recorded else 'concrete drawn'} at {digits_label(low, 3)} to "
            f"{digits_label(high, 3)} C"
        )
    youngest, oldest = valid.maturity_span_h
    about.append(f"{digits_label(youngest, 3)} to {digits_label(oldest, 3)} h of maturity at the reference temperature")
    rests = (
        f"{evidence.grade}: {evidence.n_breaks} breaks of {evidence.n_batches} batches, "
        f"{evidence.n_mixes} {'mix' if evidence.n_mixes == 1 else 'mixes'}; checked against "
        + ("drawn batches" if evidence.checked_against == "drawn" else f"{evidence.checked_against} strength")
    )
    searched = (
        f"{search.n_choices} schedules, {search.n_joint_choices} with their curves, weightings and "
        f"constants; {search.n_draws} draws, seed {search.seed}, {search.seconds:.1f} s"
    )
    facts = [("Rests on", rests), ("Searched", searched), ("Valid for", "; ".join(about))]
    if evidence.more_sentence:
        facts.append(("More breaks", words.clean(evidence.more_sentence)))
    if valid.recalibrate_when:
        facts.append(("Calibrate anew", "when " + "; ".join(words.clean(item) for item in valid.recalibrate_when)))
    notes = tuple(words.clean(note) for note in evidence.notes)
    return Section("What it rests on", (Facts(tuple(facts)), *((Bullets(notes),) if notes else ())))


def cautions_section(advice: Recommendation) -> Section:
    """Every caution with its code, and what always holds."""
    named = tuple((caution.code, words.clean(caution.text)) for caution in advice.cautions)
    standing = tuple(words.clean(text) for text in advice.standing_cautions)
    return Section(
        f"Cautions ({len(named)}), and what always holds",
        (*((Facts(named),) if named else ()), *((Bullets(standing),) if standing else ())),
        SectionId.CAUTIONS,
    )


def target_words(advice: Recommendation) -> str:
    """What is to be known, how well and how surely; no more than what, where no error can be promised."""
    if not words.is_error_promised(advice):
        return f"{words.asked_words(advice)}; how well cannot be told"
    return (
        f"{words.asked_words(advice)} within {words.share(advice.tolerance)}, "
        f"in {words.whole_share(advice.assurance)} of batches"
    )


def pictured(advice: Recommendation) -> tuple[RatedChoice, ...]:
    candidates = (advice.recommended, advice.best, advice.customary, advice.equal_gain)
    by_schedule = {choice.schedule: choice for choice in reversed(candidates) if choice is not None}
    return tuple(choice for choice in candidates if choice is not None and by_schedule[choice.schedule] is choice)


def picture_of(advice: Recommendation, choices: tuple[RatedChoice, ...]) -> AgePicture:
    targets = AgeLine(label="targets", marks=tuple((age, TARGET_MARK) for age in advice.target_ages_h), is_ruled=False)
    lines = tuple(
        AgeLine(
            label=choice.label,
            marks=tuple(
                (age, str(count) if count < 10 else "#")
                for age, count in zip(choice.schedule.ages_h, choice.schedule.specimens, strict=True)
            ),
        )
        for choice in choices
    )
    return AgePicture(lines=(targets, *lines), ticks_h=advice.candidate_ages_h)


def has_content(section: Section) -> bool:
    """Whether anything stands below the heading."""
    return any(not isinstance(block, Bullets) or block.items for block in section.blocks)
