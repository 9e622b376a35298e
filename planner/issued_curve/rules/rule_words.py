"""The rules in words, once for sheet, page, clause, estimate and screen."""

from __future__ import annotations

from planner.issued_curve.rules.alarm_chances import AlarmChances
from planner.issued_curve.rules.customary_rule import CustomaryRule
from planner.issued_curve.rules.rescaling import FEWEST_CHECKS
from planner.issued_curve.rules.rule_limits import CUSUM_LIMIT, CUSUM_SLACK, LOW_RUNNING, LOW_Z, WORTH_MORE_BREAKS
from planner.terms.labels import percent

NO_LIMITS = (
    "The error on later pours is not known, so that a check has no limits: every pour rests on its own companions, and "
    "the engineer decides."
)
RUNNING_WORDS = {2: "second", 3: "third"}
NUMBER_WORDS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}


def acceptance_words(
    *, tolerance: float, n_groups: int, z_limit: float, own_rms: float, sound_refused_at_most: float
) -> str:
    """Rule by which a calibration is accepted.

    Parameters
    ----------
    n_groups
        Groups of companions that are judged, one for each age and placement.
    own_rms
        RMS error of the curve on its own batch, relative.
    sound_refused_at_most
        Upper bound on the chance that a sound calibration is refused.
    """
    none = "it does not depart" if n_groups == 1 else f"none of the {n_groups} departs"
    return (
        "The calibration is accepted when the site-cured companions of the trial batch, each read at their own "
        f"maturity, differ from the curve by no more than {percent(tolerance, digits=0)} on the mean of the targets, "
        f"and {none} by more than {z_limit:.2f} standard deviations (the curve's error on its own batch, "
        f"{percent(own_rms)}, and the scatter of the companions together). Chance alone refuses at most "
        f"{percent(sound_refused_at_most, digits=0)} of sound calibrations. Else the trial batch is repeated; where "
        f"as many companions again have a chance of {percent(WORTH_MORE_BREAKS, digits=0)} or more to turn the answer, "
        "they are broken first."
    )


def tonight_words(*, sd: float) -> str:
    """Rule for the pour of one night; `sd` is the standard deviation of a check, relative."""
    return (
        "The pour waits when the mean of its companions or the safe reading is below the strength that is required, "
        f"when the companions are low (more than {percent(-LOW_Z * sd)} below the reading at their own maturity, "
        "which chance alone does in 1 of 20 sound pours), or when the maturity or the temperature lies outside the "
        "range of the curve. Otherwise there is no objection. No objection is no permission: the responsible engineer "
        "releases."
    )


def lasting_words(*, sd: float) -> str:
    """Rule by which a curve is withdrawn; `sd` is the standard deviation of a check, relative."""
    return (
        f"The companions of a pour count as one check. The curve is withdrawn at the {RUNNING_WORDS[LOW_RUNNING]} low "
        "check running, or when the running sum of what checks fall short by passes "
        f"{percent(CUSUM_LIMIT * sd, digits=0)}; from each check {percent(CUSUM_SLACK * sd)} are let "
        f"off, and the sum never falls below nought (one-sided CUSUM, k {CUSUM_SLACK:g}, h {CUSUM_LIMIT:g} standard "
        f"deviations of {percent(sd)}). It is then scaled down, under a new number, only where "
        f"{NUMBER_WORDS[FEWEST_CHECKS]} checks or more span the maturities that decide and their ratio "
        "to the reading is the same over them; never upward. Else it is calibrated anew."
    )


def alarm_words(chances: AlarmChances, *, n_curves: int, is_from_records: bool = False) -> str:
    """How often the lasting rule withdraws a sound curve, and how soon it finds a weaker concrete."""
    cast = "trial batch" if n_curves == 1 else "trial batches"
    source = "of the earlier batches" if is_from_records else f"of {NUMBER_WORDS.get(n_curves, n_curves)} {cast}"
    within = _listed([str(n) for n in chances.n_checks])
    return (
        f"A sound curve {source} is withdrawn by chance within {within} checks in "
        f"{_listed([percent(chance, digits=0) for chance in chances.sound])} of cases, because all its checks share "
        "its own offset. Concrete that has become weaker by one standard deviation of a check is found after "
        f"{chances.mean_to_find_drop:.0f} checks on the mean; within {within} checks in "
        f"{_listed([percent(chance, digits=0) for chance in chances.dropped])} of cases."
    )


def customary_words(rule: CustomaryRule) -> str:
    """What the customary rule would do, beside the one that decides."""
    return (
        f'The customary rule "every check within {percent(rule.limit, digits=0)}" fails '
        f"{percent(rule.false_alarm, digits=0)} of sound checks ({percent(rule.false_alarm_low)} with the concrete "
        f"weaker than read; twice running weaker {percent(rule.low_twice)}, three times "
        f"{percent(rule.low_three_times, digits=2)}) and passes {percent(rule.miss, digits=0)} of the checks of a "
        f"curve that reads {percent(rule.bias, digits=0)} too high."
    )


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
