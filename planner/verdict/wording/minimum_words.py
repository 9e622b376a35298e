"""One target's least in a paragraph."""

from __future__ import annotations

from planner.terms.labels import age_label, ages_words, at_least_label, digits_label, percent, schedule_label
from planner.terms.plan.settings import JudgedOn
from planner.terms.results.minimum.minimum_figures import Least, Need, PropertyRule, TargetMinimumFigures
from planner.terms.results.programme_figures import Programme

UNJUDGED_DRAWN = (
    "the ages rest on drawn batches or published growth, not on breaks: they put schedules in order and promise nothing"
)
UNJUDGED_FEW = "fewer than two batches can be held against each other"
CHANCE_SHARE = 0.01  # of the allowed programmes: fewer may keep the target by luck on these few batches
READ_ON = {"later pour": "later pours", "own batch": "batches on their own concrete"}


def minimum_words(target: TargetMinimumFigures, *, tolerance: float, assurance: float) -> str:
    """The fewest breaks and what has to be there; or that no programme will do, and how near they come."""
    what = "All targets together" if target.age_h is None else age_label(target.age_h)
    if target.judged_on is None:
        return f"{what}: no least can be told, for {target.unjudged_because}."
    wanted = f"{percent(assurance, digits=0)} of {READ_ON[target.judged_on]} within {percent(tolerance, digits=0)}"
    if not target.leasts:
        return f"{what}: no allowed programme keeps {wanted}." + _nearest_words(target, tolerance)
    fewest = target.leasts[0].programme
    text = f"{what}: at least {programme_words(fewest)} keep {wanted}: {figures_words(fewest, target.judged_on)}."
    if target.n_keeping < CHANCE_SHARE * target.n_programmes:
        text += f" Only {target.n_keeping} of {target.n_programmes} allowed programmes do; so few may be chance."
    return text + _needs_words(target) + "".join(f" {rule_words(rule)}" for rule in target.rules)


def programme_words(programme: Programme) -> str:
    """``2 trial batches of 6 specimens at 3 ages (4 h x2, 8 h x2, 28 d x2)``."""
    schedule = programme.schedule
    each = f"{schedule.n_specimens} specimens at {ages_words(schedule.n_ages)} ({schedule_label(schedule)})"
    return each if programme.n_trial_batches == 1 else f"{programme.n_trial_batches} trial batches of {each}"


def figures_words(programme: Programme, judged_on: JudgedOn) -> str:
    """Its error and share inside where it is judged."""
    later = programme.next_batch
    if judged_on == "own batch" or later is None:
        inside = percent(programme.own_batch_within_tolerance, digits=0)
        return f"{percent(programme.own_batch_rms)} RMS, {inside} inside"
    inside = percent(later.within_tolerance, digits=0)
    return f"{percent(later.rms)} RMS, {inside} inside{at_least_label(later.within_tolerance_lower_95)}"


def _nearest_words(target: TargetMinimumFigures, tolerance: float) -> str:
    nearest, judged_on = target.nearest, target.judged_on
    if nearest is None or judged_on is None:
        return ""
    text = f" The recommended one, {programme_words(nearest)}, comes to {figures_words(nearest, judged_on)}."
    if target.own_batch:
        fewest = target.own_batch[0].programme
        text += (
            f" On their own concrete {programme_words(fewest)} would do "
            f"({percent(fewest.own_batch_rms)} RMS), but pours differ from one another by more than break ages can "
            f"bring within {percent(tolerance, digits=0)}."
        )
    return text


def _needs_words(target: TargetMinimumFigures) -> str:
    def named(need: Need) -> str:
        return ", ".join(age_label(item.age_h) for item in target.ages if item.need == need)

    demanded, must, useless = named("demanded"), named("must be there"), named("does not help")
    text = f" Demanded by the plan: {demanded}." if demanded else ""
    text += f" Must be there: {must}." if must else " No single age must be there: others can stand in for it."
    return text + (f" Does not help: {useless}." if useless else "")


def rule_words(rule: PropertyRule) -> str:
    """What every programme that keeps the target has, in ages and as a share of the target's maturity."""
    multiple = digits_label(rule.multiple, 2)
    times = f"{multiple} times the {{}} target's maturity (standard-cured {age_label(rule.age_h)})"
    said = {
        "first break": f"the first break no later than {times.format('earliest')}",
        "last break": f"the last break no earlier than {times.format('latest')}",
        "nearest break": f"a break within a factor of {multiple} of every target's maturity "
        f"(standard-cured {age_label(rule.age_h)})",
    }[rule.of]
    text = f"All {rule.n_keeping} schedules that keep the target have {said}; {rule.n_having} of {rule.n_allowed} do."
    if not rule.n_held_out:
        return f"{text} It could not be checked on batches left out."
    return (
        f"{text} Learnt anew without each batch, schedules with it were read closer on {rule.n_held_out_right} of "
        f"{rule.n_held_out} batches left out."
    )


def least_words(item: Least) -> str:
    """What a least is the least of."""
    schedule = item.programme.schedule
    return {
        "breaks": f"at least {item.programme.n_specimens} breaks",
        "ages": f"at least {ages_words(schedule.n_ages)}",
        "latest first break": f"first break by {age_label(schedule.ages_h[0])}",
        "earliest last break": f"last break not before {age_label(schedule.last_age_h)}",
    }[item.of]
