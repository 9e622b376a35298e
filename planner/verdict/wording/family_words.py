"""What is said of one rule for many mixes, and what so few mixes cannot carry."""

from __future__ import annotations

from collections.abc import Iterable

from planner.terms.labels import age_label, percent
from planner.terms.results.minimum.family_figures import Envelope, FamilyRule
from planner.verdict.statistics.coverage_bounds import batches_needed, share_inside_lower_free

NO_TWO_MIXES = "A rule for a family needs two plans or more that breaks can judge."
ASSURANCE = 0.90  # a share of mixes that few mixes cannot carry


def other_targets_words(asked: Iterable[tuple[float, ...]]) -> str:
    """Why there is no rule for all targets together."""
    text = "; ".join(sorted(", ".join(age_label(age) for age in ages_h) for ages_h in asked))
    return (
        f"The plans have different targets ({text}), so there is no rule for all of them together; rules for the "
        f"targets "
        "that two plans share stand below. Give all plans the same [target] ages for one clause."
    )


def rule_label(rule: FamilyRule) -> str:
    """``2 trial batches of 6 h x2, 1 d x3``."""
    from planner.terms.labels import schedule_label

    label = schedule_label(rule.schedule)
    return label if rule.n_trial_batches == 1 else f"{rule.n_trial_batches} trial batches of {label}"


def left_out_words(envelope: Envelope) -> str:
    """How often the rule of the others held for the mix left out, and why that is no percentage."""
    tried = [item for item in envelope.left_out if item.is_kept is not None]
    if not tried:
        return "Left out in turn: not tried, for three mixes or more are needed with a rule in common."
    n_held = sum(item.is_kept is True for item in tried)
    n_untried = len(envelope.left_out) - len(tried)
    text = f"Left out in turn, the rule of the others held for {n_held} of {len(tried)} mixes it had not seen"
    text += f" ({n_untried} could not be tried: the others have no rule in common)" if n_untried else ""
    needed = batches_needed(ASSURANCE)
    if len(tried) < needed:
        return (
            f"{text}. {len(tried)} mixes carry no percentage: {percent(ASSURANCE, digits=0)} of mixes could be claimed "
            f"from {needed} mixes on, none of them missed."
        )
    lower = share_inside_lower_free(len(tried), len(tried) - n_held)
    return f"{text}: at 95 % confidence at least {percent(lower, digits=0)} of such mixes."


def rule_words(envelope: Envelope) -> str:
    """The rule in a sentence, and whom it is not for."""
    unkept = ", ".join(envelope.unkept)
    n_kept = sum(item.is_kept for item in envelope.members)
    if envelope.rule is None:
        if len(envelope.unkept) == len(envelope.members):
            return "No rule: no mix keeps the target with any allowed programme."
        rest = f" (kept by nothing anyway: {unkept})" if unkept else ""
        return f"No rule: the mixes that can keep the target have no breaks in common that keep it{rest}."
    text = (
        f"At least {envelope.rule.n_specimens} breaks, {rule_label(envelope.rule)}, keep the target for {n_kept} of "
        f"{len(envelope.members)} mixes"
    )
    return f"{text}; NOT for {unkept}, which keep it with no allowed programme." if unkept else f"{text}."


def not_when_words(envelope: Envelope) -> str:
    """Where the rule has not been tried."""
    parts = []
    if envelope.latest_set_h > 0:
        parts.append(f"setting later than {envelope.latest_set_h:g} h")
    if envelope.temperature_c is not None:
        low, high = envelope.temperature_c
        parts.append(f"mean concrete temperature below {low:.0f} C or above {high:.0f} C")
    else:
        parts.append("any concrete temperature that its own records do not hold: the mixes share none")
    parts += [f"a mix like {mix}" for mix in envelope.unkept]
    return "not when: " + "; ".join(parts)
